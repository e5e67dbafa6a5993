( STUD, OPEN INTERPRETER )
G8 G18 G21 G90 G95
T5 M6
S400 M3
#<x> = 9.8
G0 X13. Z6.
o101 repeat [6]
G0 X#<x>
G33 Z-28. K2.5
G0 X13.
Z6.
#<x> = [#<x> - 0.2]
o101 endrepeat
M2
