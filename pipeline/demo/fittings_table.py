"""Which part sits where: one line a fitting (assembly and part), and how often each assembly is in a machine.

Fittings: assembly, part, families by initial (``*`` = all that have the assembly), pieces per assembly, usual action
in a thorough and in a fix-only job, bench hours a piece (blank = share of the assembly's).
Assemblies: code, bench hours, installed hours, hours to open, count in each family, name. Counts and hours are seeds
from memory of the trade.
"""

ASSEMBLIES = """
flip | 0.75 | 1.15 | 0.25 | 2 3 2 3 3 | Flipper mechanism
jet | 1.05 | 2.3 | 0.3 | 4 3 3 3 2 | Jet bumper
kicker | 0.55 | 0.95 | 0.15 | 2 2 2 2 2 | Slingshot
trough | 0.8 | 1.5 | 0.35 | 1 1 1 1 1 | Ball trough and server
upkick | 0.75 | 1.7 | 0.4 | 0 0 1 2 1 | Vertical up-kicker
hole | 0.45 | 0.9 | 0.2 | 2 2 1 1 1 | Kick-out saucer
dropbank | 1.6 | 2.3 | 0.3 | 1 2 1 1 0 | Drop-target bank
divert | 0.6 | 1.7 | 0.45 | 0 0 1 2 1 | Ramp diverter
underway | 0.7 | 2.6 | 0.8 | 0 0 0 1 1 | Under-playfield transport
reel | 0.45 | 0.65 | 0.2 | 8 0 0 0 0 | Score reel and stepper
power | 1.8 | 2.0 | 0.3 | 1 1 1 1 1 | Power and driver board
display | 1.2 | 1.35 | 0.2 | 0 1 1 1 1 | Display
lighting | 3.5 | 8.0 | 0.5 | 1 1 1 1 1 | Lamps and sockets
harness | 2.5 | 3.4 | 0.4 | 1 1 1 1 1 | Connectors and harness
dress | 2.4 | 6.0 | 0.6 | 1 1 1 1 1 | Rings and plastics
cabinet | 1.6 | 1.9 | 0.1 | 1 1 1 1 1 | Cabinet
"""

FITTINGS = """
flip | coil-flip-ac | e | 1 | keep | keep | 0.17
flip | coil-flip-series | sa | 1 | keep | keep | 0.17
flip | coil-flip-parallel | d | 1 | keep | keep | 0.17
flip | coil-flip-single | m | 1 | keep | keep | 0.17
flip | sleeve-wide | e | 1 | replace | keep | 0.05
flip | sleeve-nylon-long | sadm | 1 | replace | keep | 0.05
flip | link-flip-old | e | 1 | replace | keep |
flip | link-flip-mid | sa | 1 | replace | keep |
flip | link-flip-late | dm | 1 | replace | keep |
flip | stop-flip | * | 1 | replace | keep |
flip | spring-flip | * | 1 | replace | keep |
flip | bushing-flip | * | 1 | replace | keep |
flip | bat-flip-short | e | 1 | clean | keep |
flip | bat-flip-std | sadm | 1 | clean | keep |
flip | rubber-flip | * | 1 | replace | replace | 0.03
flip | switch-stroke | esa | 1 | replace | clean | 0.1
flip | switch-stroke-open | dm | 1 | replace | clean | 0.1
flip | switch-button | esa | 1 | clean | clean | 0.1
flip | opto-button | dm | 1 | clean | clean |
jet | coil-jet-ac | e | 1 | keep | keep | 0.17
jet | coil-jet-dc | sadm | 1 | keep | keep | 0.17
jet | sleeve-nylon-std | * | 1 | replace | keep | 0.05
jet | cap-jet-star | e | 1 | clean | keep |
jet | cap-jet-round | sad | 1 | clean | keep |
jet | cap-jet-clear | m | 1 | clean | keep |
jet | body-jet | * | 1 | clean | keep |
jet | skirt-jet | * | 1 | replace | keep |
jet | rod-jet | * | 1 | clean | keep |
jet | yoke-metal | * | 1 | clean | keep |
jet | yoke-fibre | * | 1 | replace | keep |
jet | plunger-jet | * | 1 | recondition | keep |
jet | spring-jet | * | 1 | replace | keep |
jet | spring-skirt | * | 1 | clean | keep |
jet | switch-spoon | * | 1 | clean | clean | 0.1
kicker | coil-kick-ac | e | 1 | keep | keep | 0.17
kicker | coil-kick-dc | sadm | 1 | keep | keep | 0.17
kicker | sleeve-nylon-std | * | 1 | replace | keep | 0.05
kicker | arm-kick | * | 1 | clean | keep |
kicker | plunger-kick | * | 1 | replace | keep |
kicker | spring-kick | * | 1 | clean | keep |
kicker | switch-kick | * | 2 | clean | clean | 0.1
trough | coil-serve | * | 1 | keep | keep | 0.17
trough | sleeve-nylon-std | * | 1 | replace | keep | 0.05
trough | plunger-serve | * | 1 | recondition | keep |
trough | spring-serve | * | 1 | clean | keep |
trough | arm-serve | * | 1 | clean | keep |
trough | switch-trough | esa | 3 | clean | clean | 0.1
trough | opto-trough | dm | 6 | clean | clean | 0.2
trough | board-trough | dm | 2 | keep | keep | 0.25
trough | ball | es | 1 | replace | keep | 0.02
trough | ball | a | 2 | replace | keep | 0.02
trough | ball | dm | 5 | replace | keep | 0.02
trough | damper-trough | adm | 1 | replace | keep |
upkick | coil-lift | * | 1 | keep | keep | 0.17
upkick | sleeve-nylon-long | * | 1 | replace | keep | 0.05
upkick | plunger-lift | * | 1 | recondition | keep |
upkick | bracket-lift | * | 1 | recondition | keep |
upkick | damper-lift | * | 1 | replace | keep |
upkick | opto-lift | dm | 1 | clean | clean | 0.2
upkick | switch-lift | a | 1 | clean | clean | 0.1
upkick | hood-lift | d | 1 | recondition | keep |
hole | coil-hole | * | 1 | keep | keep | 0.17
hole | sleeve-nylon-std | * | 1 | replace | keep | 0.05
hole | plunger-hole | * | 1 | recondition | keep |
hole | arm-hole | * | 1 | clean | keep |
hole | spring-hole | * | 1 | clean | keep |
hole | switch-hole | * | 1 | clean | clean | 0.1
hole | rim-hole | sad | 1 | keep | keep |
dropbank | target-drop-flat | e | 4 | clean | keep |
dropbank | target-drop-wide | s | 5 | replace | keep |
dropbank | target-drop-narrow | a | 3 | recondition | keep |
dropbank | target-drop-late | d | 3 | replace | keep |
dropbank | decal-target | s | 5 | replace | keep |
dropbank | decal-target | a | 3 | replace | keep |
dropbank | spring-target | es | 5 | replace | keep | 0.04
dropbank | spring-target | ad | 3 | replace | keep | 0.04
dropbank | coil-reset | * | 1 | keep | keep | 0.17
dropbank | sleeve-nylon-std | * | 1 | replace | keep | 0.05
dropbank | plunger-reset | * | 1 | recondition | keep |
dropbank | contact-target | es | 5 | clean | clean | 0.08
dropbank | contact-target | a | 3 | clean | clean | 0.08
dropbank | board-target | d | 1 | keep | keep | 0.25
dropbank | bar-lift | sad | 1 | recondition | keep |
divert | coil-divert | * | 1 | keep | keep | 0.17
divert | sleeve-nylon-long | * | 1 | replace | keep | 0.05
divert | plunger-divert | * | 1 | keep | keep |
divert | spring-divert | * | 1 | clean | keep |
divert | arm-divert-wire | am | 1 | keep | keep |
divert | arm-divert-flap | d | 1 | keep | keep |
divert | clip-divert | * | 3 | replace | keep | 0.02
divert | bushing-divert | * | 1 | replace | keep |
underway | channel-vacuum | d | 1 | make | keep |
underway | channel-metal | m | 1 | recondition | keep |
underway | opto-path | * | 3 | clean | clean | 0.2
underway | gate-path | * | 1 | clean | keep |
underway | spacer-path | * | 8 | clean | keep | 0.02
underway | loom-path | * | 1 | keep | keep |
reel | coil-reel | * | 1 | keep | keep | 0.17
reel | sleeve-reel | * | 1 | replace | keep | 0.05
reel | plunger-reel | * | 1 | clean | keep |
reel | pawl-reel | * | 1 | clean | keep |
reel | spring-reel | * | 2 | replace | keep | 0.04
reel | strip-reel | * | 1 | clean | keep |
reel | contact-reel | * | 4 | clean | clean | 0.05
reel | disc-stepper | * | 1 | recondition | keep |
reel | wiper-stepper | * | 1 | clean | keep |
power | fuse-slow | * | 6 | replace | replace | 0.02
power | fuse-fast | sad | 5 | replace | replace | 0.02
power | clip-fuse | esad | 12 | clean | keep | 0.04
power | bridge | sad | 3 | keep | keep | 0.2
power | cap-filter-large | sa | 3 | replace | keep | 0.15
power | cap-filter-snap | d | 6 | replace | keep | 0.12
power | cap-small | sadm | 12 | clean | keep | 0.05
power | transistor-drive | sad | 24 | keep | keep | 0.1
power | regulator | sad | 2 | keep | keep | 0.15
power | varistor | * | 1 | replace | keep | 0.1
power | cord-mains | * | 1 | clean | keep | 0.25
power | holder-battery | sad | 1 | replace | keep | 0.3
power | relay | e | 25 | clean | clean |
power | board-logic-early | s | 1 | keep | keep | 0.3
power | board-logic-late | a | 1 | keep | keep | 0.3
power | board-drive | d | 1 | keep | keep | 0.3
power | board-node | m | 4 | keep | keep | 0.2
display | glass-numeric | s | 5 | keep | keep | 0.3
display | glass-alpha | a | 2 | keep | keep | 0.3
display | panel-dots | d | 1 | keep | keep | 0.3
display | panel-colour | m | 1 | keep | keep | 0.3
display | kit-rails | sad | 1 | recondition | keep | 0.8
display | ribbon-display | * | 1 | clean | keep |
lighting | lamp-bayonet | es | 80 | replace | replace | 0.04
lighting | lamp-bayonet | ad | 60 | replace | replace | 0.04
lighting | lamp-wedge | ad | 70 | replace | replace | 0.04
lighting | lamp-flash | ad | 8 | replace | replace | 0.04
lighting | led-module | m | 12 | keep | keep | 0.1
lighting | socket-bayonet | esad | 60 | clean | keep | 0.15
lighting | socket-wedge | ad | 60 | clean | keep | 0.15
lighting | diode-lamp | sad | 60 | keep | keep | 0.05
harness | housing-small | * | 16 | recondition | keep | 0.1
harness | housing-large | sad | 14 | recondition | keep | 0.15
harness | terminal-crimp | * | 150 | recondition | recondition | 0.03
harness | header-square | sadm | 12 | recondition | keep | 0.3
harness | key-plug | sadm | 20 | clean | keep | 0.01
dress | ring-tiny | * | 10 | replace | replace | 0.02
dress | ring-small | * | 8 | replace | replace | 0.02
dress | ring-medium | * | 6 | replace | replace | 0.02
dress | ring-large | * | 4 | replace | replace | 0.02
dress | ring-giant | * | 2 | replace | replace | 0.02
dress | sleeve-post | * | 10 | replace | keep | 0.02
dress | post-star | * | 24 | clean | keep | 0.03
dress | plastics-old | e | 1 | keep | keep |
dress | plastics-mid | sa | 1 | keep | keep |
dress | plastics-late | dm | 1 | keep | keep |
dress | ramp-formed | d | 3 | recondition | keep | 0.4
dress | ramp-moulded | am | 2 | recondition | keep | 0.4
dress | guide-lane | * | 6 | clean | keep | 0.03
dress | protector | sadm | 12 | replace | keep | 0.02
dress | screw-wood | * | 80 | clean | keep | 0.01
dress | nut-lock | sadm | 60 | clean | keep | 0.01
dress | washer-nylon | * | 40 | replace | keep | 0.01
cabinet | leg | * | 4 | recondition | keep |
cabinet | leveller | * | 4 | replace | keep | 0.03
cabinet | bolt-leg | * | 8 | clean | keep | 0.03
cabinet | rail-side | * | 2 | recondition | keep |
cabinet | glass-top | * | 1 | keep | keep | 0.1
cabinet | lock-door | * | 2 | replace | keep | 0.1
cabinet | button-flip | * | 2 | clean | keep | 0.05
cabinet | rod-shooter | esadm | 1 | recondition | keep |
cabinet | spring-shooter | * | 2 | replace | keep | 0.05
cabinet | tip-shooter | * | 1 | replace | replace | 0.03
cabinet | decals-cabinet | sad | 1 | keep | keep |
cabinet | speaker | sadm | 2 | keep | keep | 0.2
"""
