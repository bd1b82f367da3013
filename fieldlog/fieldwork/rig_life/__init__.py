"""A rig over its years: what happened to it, its checks as series, its interval, what falls due."""
