import datetime as dt
NOW = dt.datetime(2026, 5, 6, 12, 0, tzinfo=dt.timezone(dt.timedelta(hours=2)))
async def test_x(hands, sample):
    async with hands(sample, start=NOW) as pair:
        await pair.press("q")
        await pair.press("p")
        print(type(pair.room), pair.said)
        await pair.press("/")
        print(type(pair.room), pair.room.focused)
        await pair.type("trunk peak best extension 60")
        print(type(pair.room), pair.room.focused, pair.text)
        await pair.press("enter")
        print(type(pair.room), pair.room.focused, pair.text)
        assert 0
