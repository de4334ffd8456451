#!/bin/sh
# An invented season at a potting bench, from the first pollination to the cull and keep list.
#
# `locule demo` plays exactly these commands. To play them yourself, in an empty folder:
#   LOCULE_LEDGER=season.db sh season.sh
# Every plant here is made up. The day is fixed, so that the answers are the same whenever you read this.
set -e
export LOCULE_TODAY=2025-06-14
export LOCULE_SEED=season

locule init

# Six parents, each entered with what is known of its genes: A for purple leaves, H for a hairy stem.
# Two purple lines, two green lines, one green line with a hairy stem.
locule parent add NL "Night Lantern" --species annuum --genotype "A/A h/h" --on 2025-01-10
locule parent add IK "Ink Kettle"    --species annuum --genotype "A/A h/h" --on 2025-01-10
locule parent add PH "Pale Heron"    --species annuum --genotype "a/a h/h" --on 2025-01-10
locule parent add MB "Moss Button"   --species annuum --genotype "a/a h/h" --on 2025-01-10
locule parent add WH "Wool Harbour"  --species annuum --genotype "a/a H/H" --on 2025-01-10
# One hybrid kept over winter: purple, but its mother was green, so it carries one copy.
locule parent add DT "Dusk Thimble" --plant --species annuum --genotype "A/a h/h" --on 2025-01-10

# 17 January, under the lamp. One brush for three crosses; before the second it was not wiped.
locule cross WH NL --flowers 3 --tool brush --wiped --on 2025-01-17
locule cross MB IK --flowers 3 --tool brush --on 2025-01-17
locule cross NL PH --flowers 2 --tool brush --wiped --on 2025-01-17
locule note X1 "bud was nearly open when I took the anthers out" --on 2025-01-17

# 18 January: tweezers, wiped each time, flowers covered.
locule cross WH MB --flowers 2 --tool tweezers --wiped --covered --on 2025-01-18
locule cross NL MB --flowers 2 --tool tweezers --wiped --covered --on 2025-01-18
locule cross NL WH --flowers 2 --tool tweezers --wiped --covered --on 2025-01-18

# 24 January: the hybrid with itself.
locule self DT --flowers 4 --covered --on 2025-01-24
locule set X1 --pods 2 --dropped 1 --on 2025-02-14
locule set X2 --pods 2 --dropped 1 --on 2025-02-14
locule set X3 --pods 2 --dropped 0 --on 2025-02-14
locule set X4 --pods 1 --dropped 1 --on 2025-02-15
locule set X6 --pods 1 --dropped 1 --on 2025-02-15

# Nine weeks later the pods are ripe.
locule harvest X1 --pods 2 --seeds 48 --on 2025-03-21
locule harvest X2 --pods 2 --seeds 55 --on 2025-03-21
locule harvest X3 --pods 2 --seeds 60 --on 2025-03-21
locule harvest X4 --pods 1 --seeds 31 --on 2025-03-22
locule harvest X5 --pods 2 --seeds 44 --on 2025-03-22
locule harvest X6 --pods 1 --seeds 27 --on 2025-03-22
locule harvest X7 --pods 3 --seeds 90 --about --on 2025-03-28

# 7 March: two more crosses for a second sowing, green mothers this time.
locule cross PH NL --flowers 3 --tool tweezers --wiped --covered --on 2025-03-07
locule cross PH IK --flowers 3 --tool tweezers --wiped --covered --on 2025-03-07
locule harvest X8 --pods 2 --seeds 52 --on 2025-05-09
locule harvest X9 --pods 2 --seeds 40 --on 2025-05-09
locule packet IK --seeds 20 --label "own seed, bagged" --claim line --on 2025-05-09

# Spring sowing on three evenings. The two trays of 6 April got each other's labels.
locule sow X1 --seeds 12 --tray T1 --place tent --on 2025-04-05
locule sow X2 --seeds 12 --tray T2 --place tent --on 2025-04-05
locule sow X3 --seeds 10 --tray T3 --place tent --on 2025-04-05
locule sow X4 --seeds 9  --tray T4 --place tent --on 2025-04-06
locule sow X5 --seeds 9  --tray T5 --place tent --on 2025-04-06
locule sow X6 --seeds 8  --tray T6 --place tent --on 2025-04-07
locule sow X7 --seeds 40 --tray T7 --place tent --cells 10 --on 2025-04-07

locule up T1 7 --on 2025-04-15
locule up T2 6 --on 2025-04-15
locule up T3 5 --on 2025-04-15
locule up T4 8 --on 2025-04-18
locule up T5 8 --on 2025-04-18
locule up T6 7 --on 2025-04-18
locule up T7 36 --on 2025-04-20
locule up T1 12 --on 2025-04-19
locule up T2 11 --on 2025-04-19
locule up T3 9 --on 2025-04-19
locule care feed T1 T2 T3 T4 T5 T6 T7 --product "tomato feed" --dose "quarter strength" --on 2025-05-03

# 30 May: six weeks old. Leaves and stems are read, tray by tray.
# T1 (hairy mother, purple father): five purple, seven as green as the mother.
locule score T1 1,4,6,9,11=purple/hairy 2,3,5,7,8,10,12=green/hairy --on 2025-05-30
# T2 (green mother, purple father, both smooth): two are green, and hairy. Who is hairy?
locule score T2 1-4,6-8,10,11=purple/smooth 5,9=green/hairy --on 2025-05-30
# T3 (purple mother, green father): all nine purple. So far, so good?
locule score T3 purple=9 --on 2025-05-30
# T4 (hairy and green, says the label) is purple and smooth; T5 (purple and smooth) is green and hairy.
locule score T4 purple/smooth=8 --on 2025-05-30
locule score T5 green/hairy=8 --on 2025-05-30
# T6 (smooth mother, hairy father): hair on every stem, which no self of the mother has.
locule score T6 purple/hairy=7 --on 2025-05-30
# T7, the hybrid's own seed, four to a pot: purple and green side by side.
locule score T7 purple=27 green=9 --on 2025-05-30

# The second sowing. One tray stands in the tent; the other, with a control pot, on the dim shelf.
locule sow X8 --seeds 12 --tray T8 --place tent --on 2025-05-17
locule sow X9 --seeds 10 --tray T9 --place "back shelf" --on 2025-05-17
locule sow IK --seeds 5  --tray P1 --cells 1 --place "back shelf" --on 2025-05-17
locule up T8 6 --on 2025-05-27
locule up T8 11 --on 2025-05-30
locule up T9 9 --on 2025-05-30
locule up P1 4 --on 2025-05-30

# 8 and 13 June. Purple comes late: four of the greens of T8 have turned since, two have not yet.
locule score T8 1,2,5,8,12=purple 3,4,6,9,10,11=green --on 2025-06-08
locule score T8 1-3,5,6,8,9,11,12=purple 4,10=green --on 2025-06-13
# On the dim shelf nothing is purple, and neither is the control pot, which has to be in the end.
locule score T9 green=9 --on 2025-06-13
locule score P1 green=4 --on 2025-06-13

# What is bred for: purple leaves on a smooth stem. Some heights, to see who lags.
locule goal add purple --must --on 2025-06-14
locule goal add smooth --want 2 --on 2025-06-14
locule measure T8-01 height=61mm --on 2025-06-13
locule measure T8-02 height=58mm --on 2025-06-13
locule measure T8-03 height=64mm --on 2025-06-13
locule measure T8-05 height=60mm --on 2025-06-13
locule measure T8-08 height=24mm --on 2025-06-13

# Which of them go, which stay, which have to wait?
locule sheet

# What to try next: whose pollen was it in T2; does the hybrid's own seed fit 3:1; and, a week later, the control
# pot has coloured: what does that say of T9?
# Try: locule suspects T2 --on 2025-06-14
# Try: locule ratio T7
# Try: locule pick T8 --per-cross 2 --on 2025-06-14
# Try: locule rank T8 --on 2025-06-14
# Try: locule size T8 --on 2025-06-14
# Try: locule germination T1 T2 T3 --on 2025-06-14
# Try: locule plan seeds X8 --class purple --want 4 --on 2025-06-14
# Try: locule score P1 purple=4 --on 2025-06-20
