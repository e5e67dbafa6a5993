( STUD IN TWO LENGTHS, OPEN INTERPRETER )
G7 G18 G21 G90 G95
T5 M6
S500 M3
#<long> = 1
o110 if [#<long> EQ 1]
  #<end> = -40.
o110 else
  #<end> = -25.
o110 endif
G0 X28. Z8.
G76 P3. Z#<end> I-4. J.4 K3.68 R2. Q29. H1
G0 X100. Z100.
M2
