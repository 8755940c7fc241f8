"""What a competent user would write instead, each in a module of its own, all asked the same two questions.

An alternative has a ``name``; it is made from zones, and asked for

- ``table(fixes)``: the signed clearance of every fix to every zone within 5 nmi of it;
- ``answer(fixes)``: of every zone within 5 nmi of any fix the least clearance, entries and exits.
"""
