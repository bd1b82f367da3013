"""What a verdict says besides its words: place, standards, defaults, doubts."""

import datetime as dt
import math

import pytest

from fieldlog.fieldwork.rig_checks.check_judge import check_basis, judge
from fieldlog.records.check_entry import Place
from fieldlog.records.rig import Lever, Rig
from fieldlog.records.standard import Certificate
from tests.simulation.exact_check import CERTIFIED, GRAVITY, STATED, entry, mass, point, reference, remarks


class TestPlace:
    def test_the_checks_own_place_goes_before_the_sites_and_says_so(self):
        verdict = judge(entry(), place=Place(latitude_deg=0.0, height_m=0.0))
        assert verdict["local_gravity_m_s2"] == pytest.approx(GRAVITY)
        assert "differs from the site's" in remarks(verdict)
        assert "site's" not in remarks(judge(entry(), place=Place(latitude_deg=60.2, height_m=4.0)))

    def test_the_sites_place_serves_where_the_check_has_none(self):
        verdict = judge(entry(place=None), place=Place(latitude_deg=60.2, height_m=4.0))
        assert verdict["local_gravity_m_s2"] == pytest.approx(GRAVITY)
        assert "no place" not in remarks(verdict)

    def test_without_any_place_standard_gravity_serves_with_a_wider_uncertainty(self):
        known, unknown = judge(entry()), judge(entry(place=None))
        assert unknown["local_gravity_m_s2"] == 9.80665
        assert "no place given" in remarks(unknown)
        at_20_kg = [v["torque"]["points"][2]["u_expanded_nm"] for v in (known, unknown)]
        assert at_20_kg[1] > 1.5 * at_20_kg[0]


class TestStandards:
    def test_an_overdue_certificate_is_named_with_its_days(self):
        old = mass(
            certificate=Certificate(number="C-1", due_on=dt.date(2031, 4, 25)), standard_uncertainty=0.001
        )
        assert "overdue certificate: 20 kg, by 9 days" in remarks(judge(entry(), standards=[old]))
        assert "overdue" not in remarks(judge(entry(), standards=[mass(certificate=CERTIFIED)]))

    def test_a_certificate_due_that_very_day_still_holds(self):
        due = mass(
            certificate=Certificate(number="C-1", due_on=dt.date(2031, 5, 4)), standard_uncertainty=0.001
        )
        assert "overdue" not in remarks(judge(entry(), standards=[due]))

    def test_a_mass_without_certificate_takes_the_limit_of_its_class(self):
        body = entry(uncertainty={k: v for k, v in STATED.items() if k != "mass_rel"})
        basis = check_basis(body, standards=[mass(mass_class="M2")])
        assert basis.mass_rel == pytest.approx(160e-6 / math.sqrt(3), rel=0.07)
        assert "missing certificate: 20 kg; the limit of class M2" in remarks(
            judge(body, standards=[mass(mass_class="M2")])
        )

    def test_an_unweighed_plate_is_visibly_wide(self):
        body = entry(uncertainty={k: v for k, v in STATED.items() if k != "mass_rel"})
        verdict = judge(body, standards=[mass(mass_class="unweighed")])
        assert verdict["torque"]["points"][2]["undecidable"]

    def test_a_set_is_as_good_as_its_worst_piece(self):
        body = entry(uncertainty={k: v for k, v in STATED.items() if k != "mass_rel"})
        shelf = [mass("good", standard_uncertainty=0.001), mass("worn", standard_uncertainty=0.02)]
        assert (
            check_basis(body, standards=shelf).mass_rel
            == check_basis(body, standards=shelf[::-1]).mass_rel
            == 0.001
        )

    def test_what_the_check_states_goes_before_what_a_certificate_says(self):
        assert check_basis(entry(), standards=[mass(mass_class="unweighed")]).mass_rel == 0.0005

    def test_standards_named_by_the_check_are_the_ones_used(self):
        body = entry(
            standards=["old set", "lost one"],
            uncertainty={k: v for k, v in STATED.items() if k != "mass_rel"},
        )
        shelf = [
            mass("old set", standard_uncertainty=0.02, certificate=CERTIFIED),
            mass("new", mass_class="unweighed"),
        ]
        verdict = judge(body, standards=shelf)
        assert check_basis(body, standards=shelf).mass_rel == pytest.approx(0.001)
        assert "lost one is no standard" in remarks(verdict)
        assert "missing certificate: new" not in remarks(verdict)

    def test_a_standard_that_was_not_hung_is_not_spoken_of(self):
        assert "missing" not in remarks(
            judge(entry(point(5)), standards=[mass(), mass("5 kg ring", certificate=CERTIFIED)])
        )

    def test_lever_and_display_step_of_the_rig_serve(self):
        rig = Rig(
            id="r1",
            name="rig A",
            display_step_nm=0.5,
            levers=(Lever(name="long", arm_m=0.5, standard_uncertainty_m=0.002),),
        )
        basis = check_basis(entry(uncertainty={}), rig=rig)
        assert (basis.resolution_nm, basis.arm_m) == (0.5, 0.002)
        assert "resolution_nm" not in " ".join(basis.defaults_used)


class TestRemarks:
    def test_default_uncertainties_are_listed_with_their_values(self):
        said = remarks(judge(entry(uncertainty={"resolution_nm": 0.1})))
        assert "default uncertainty used (common practice): mass_rel 0.00029, arm_m 0.0005 m" in said
        assert "resolution_nm" not in said
        assert "default" not in remarks(judge(entry()))

    def test_identical_directions_are_doubted(self):
        alike = [
            {**point(m), "direction": d, "reading_nm": reference(m) + 7.3}
            for d in ("up", "down")
            for m in (5, 10, 20)
        ]
        tare = {"up_before_nm": 7.3, "up_after_nm": 7.3, "down_before_nm": 7.3, "down_after_nm": 7.3}
        assert "was the lever really turned?" in remarks(judge(entry(*alike, tare=tare)))
        assert "turned" not in remarks(judge(entry()))

    def test_one_direction_leaves_the_other_without_reference(self):
        assert "only up was checked" in remarks(judge(entry(point(20))))

    @pytest.mark.parametrize(("on_at", "said"), [("08:00", True), ("07:54", False)])
    def test_a_short_warm_up_is_named(self, on_at, said):
        verdict = judge(entry(conditions={"powered_on_at": f"2031-05-04T{on_at}:00+02:00"}))
        assert ("warm-up too short" in remarks(verdict)) is said

    def test_the_rigs_own_warm_up_counts(self):
        rig = Rig(id="r1", name="rig A", warm_up_minutes=45)
        body = entry(conditions={"powered_on_at": "2031-05-04T07:44:00+02:00"})
        assert "30 min, 45 are needed" in remarks(judge(body, rig=rig))

    def test_a_check_from_the_future_is_noticed(self):
        assert "after today" in remarks(judge(entry(), today=dt.date(2031, 5, 3)))
        assert "after today" not in remarks(judge(entry(), today=dt.date(2031, 5, 4)))

    def test_a_sound_check_has_nothing_to_say(self):
        assert judge(entry())["remarks"] == []
