"""Day routes: crews, shifts, visits, timetables and the reasons why a visit has no place."""
