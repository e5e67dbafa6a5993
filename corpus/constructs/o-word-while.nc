( STUD, OPEN INTERPRETER )
G8 G18 G21 G90 G95
T5 M6
S400 M3
#<pass> = 1
G0 X13. Z6.
o101 while [#<pass> LE 8]
  #<x> = [10. - 1.534 * SQRT[#<pass> / 8]]
  G0 X#<x>
  G33 Z-28. K2.5
  G0 X13.
  Z6.
  #<pass> = [#<pass> + 1]
o101 endwhile
M2
