"""The invented workshop's part list: one line a part.

Columns: part, wear class, price today in shop currency, supply, pieces a pack, who sells it (first letter of the
vendor, habitual one first), description. Prices are seeds from memory of the trade, good to a factor of two.
"""

PARTS = """
coil-flip-ac | coil | 19.5 | steady | 1 | f | Flipper coil, alternating current
coil-flip-series | coil | 18.2 | steady | 1 | ft | Flipper coil, two windings in series
coil-flip-parallel | coil | 21.4 | steady | 1 | f | Flipper coil, two windings in parallel
coil-flip-single | coil | 23.8 | steady | 1 | f | Flipper coil, electronically held
sleeve-wide | sleeve | 1.05 | steady | 10 | f | Coil sleeve, wide
sleeve-nylon-long | sleeve | 0.82 | steady | 10 | ft | Coil sleeve, nylon, long
sleeve-nylon-std | sleeve | 0.66 | steady | 10 | ft | Coil sleeve, nylon, standard
link-flip-old | plunger | 12.6 | steady | 1 | f | Crank, link and plunger, early pattern
link-flip-mid | plunger | 11.3 | steady | 1 | ft | Crank, link and plunger, middle pattern
link-flip-late | plunger | 12.1 | steady | 1 | ft | Crank, link and plunger, late pattern
stop-flip | bracket | 4.3 | steady | 1 | ft | Flipper coil stop
spring-flip | spring | 0.95 | steady | 10 | f | Flipper return spring
bushing-flip | moulding | 1.4 | steady | 1 | f | Flipper bushing
bat-flip-short | moulding | 5.9 | steady | 1 | f | Flipper bat and shaft, short
bat-flip-std | moulding | 6.6 | steady | 1 | ft | Flipper bat and shaft, standard
rubber-flip | ring | 1.55 | steady | 1 | tf | Flipper rubber
switch-stroke | switch | 5.1 | steady | 1 | f | End-of-stroke switch, normally closed
switch-stroke-open | switch | 4.7 | steady | 1 | f | End-of-stroke switch, normally open
switch-button | switch | 5.6 | steady | 1 | f | Cabinet button leaf switch
opto-button | opto_pair | 12.4 | steady | 1 | m | Cabinet button opto board
coil-jet-ac | coil | 15.4 | steady | 1 | f | Jet bumper coil, alternating current
coil-jet-dc | coil | 16.2 | steady | 1 | ft | Jet bumper coil, direct current
cap-jet-star | cosmetic | 8.4 | scarce | 1 | o | Bumper cap, star pattern
cap-jet-round | cosmetic | 5.2 | steady | 1 | of | Bumper cap, round
cap-jet-clear | cosmetic | 4.6 | steady | 1 | f | Bumper cap, clear
body-jet | moulding | 4.4 | steady | 1 | f | Bumper body
skirt-jet | moulding | 2.7 | steady | 1 | f | Bumper skirt
rod-jet | bracket | 7.2 | steady | 1 | f | Bumper ring and rods
yoke-metal | bracket | 2.6 | steady | 1 | f | Bumper yoke, metal
yoke-fibre | moulding | 1.3 | steady | 1 | f | Bumper yoke, fibre
plunger-jet | plunger | 4.9 | steady | 1 | f | Bumper plunger
spring-jet | spring | 0.9 | steady | 10 | f | Bumper return spring
spring-skirt | spring | 0.7 | steady | 10 | f | Bumper skirt spring
switch-spoon | switch | 8.3 | steady | 1 | f | Spoon switch
coil-kick-ac | coil | 14.9 | steady | 1 | f | Slingshot coil, alternating current
coil-kick-dc | coil | 15.1 | steady | 1 | ft | Slingshot coil, direct current
arm-kick | bracket | 6.1 | steady | 1 | f | Slingshot arm
plunger-kick | plunger | 6.4 | steady | 1 | f | Slingshot plunger and link
spring-kick | spring | 0.85 | steady | 10 | f | Slingshot spring
switch-kick | switch | 4.2 | steady | 1 | f | Slingshot leaf switch
coil-serve | coil | 15.8 | steady | 1 | f | Ball serving coil
plunger-serve | plunger | 5.3 | steady | 1 | f | Ball serving plunger
spring-serve | spring | 0.9 | steady | 1 | f | Ball serving spring
arm-serve | bracket | 7.5 | steady | 1 | f | Ball serving arm
switch-trough | switch | 4.6 | steady | 1 | fm | Trough switch
opto-trough | opto_pair | 7.8 | steady | 1 | m | Trough emitter and receiver pair
board-trough | board | 23.0 | steady | 1 | m | Trough opto board
ball | other | 2.1 | steady | 6 | tf | Ball, carbon core
damper-trough | ring | 0.8 | steady | 1 | t | Trough damper
coil-lift | coil | 17.6 | steady | 1 | f | Up-kicker coil
plunger-lift | plunger | 6.9 | steady | 1 | f | Up-kicker plunger, nylon tip
bracket-lift | bracket | 9.2 | steady | 1 | f | Up-kicker bracket
damper-lift | ring | 0.9 | steady | 1 | t | Up-kicker rubber damper
opto-lift | opto_pair | 13.1 | steady | 1 | m | Up-kicker opto pair
switch-lift | switch | 4.9 | steady | 1 | f | Up-kicker switch
hood-lift | bracket | 28.0 | scarce | 1 | o | Up-kicker hood
coil-hole | coil | 15.2 | steady | 1 | f | Saucer coil
plunger-hole | plunger | 5.8 | steady | 1 | f | Saucer plunger
arm-hole | bracket | 8.1 | steady | 1 | f | Saucer kick arm
spring-hole | spring | 0.8 | steady | 1 | f | Saucer spring
switch-hole | switch | 5.0 | steady | 1 | f | Saucer switch with lever
rim-hole | moulding | 6.8 | steady | 1 | o | Saucer rim protector
target-drop-flat | moulding | 6.2 | scarce | 1 | o | Drop target, flat
target-drop-wide | moulding | 5.1 | steady | 1 | of | Drop target, wide
target-drop-narrow | moulding | 6.9 | scarce | 1 | o | Drop target, narrow
target-drop-late | moulding | 5.7 | steady | 1 | fo | Drop target, late pattern
decal-target | cosmetic | 2.2 | scarce | 1 | o | Drop target decal
spring-target | spring | 0.9 | steady | 10 | f | Drop target spring
coil-reset | coil | 18.9 | steady | 1 | f | Bank reset coil
plunger-reset | plunger | 7.7 | steady | 1 | f | Bank reset plunger and link
contact-target | switch | 2.6 | steady | 1 | f | Drop target contact
board-target | board | 44.0 | steady | 1 | m | Drop target opto board
bar-lift | bracket | 13.5 | scarce | 1 | o | Bank lift bar
coil-divert | coil | 24.5 | steady | 1 | f | Diverter coil, pull and hold
plunger-divert | plunger | 7.1 | steady | 1 | f | Diverter plunger and link
spring-divert | spring | 0.95 | steady | 1 | f | Diverter spring
arm-divert-wire | bracket | 11.8 | steady | 1 | fo | Diverter arm, wire
arm-divert-flap | moulding | 19.0 | scarce | 1 | o | Diverter arm, moulded flap
clip-divert | fastener | 0.12 | steady | 25 | tf | Retaining clip
bushing-divert | moulding | 1.7 | steady | 1 | f | Diverter bushing
channel-vacuum | moulding | 58.0 | ended | 1 | o | Underpath channel, vacuum formed
channel-metal | bracket | 42.0 | scarce | 1 | o | Underpath channel, metal
opto-path | opto_pair | 12.2 | steady | 1 | m | Underpath opto pair
gate-path | bracket | 6.3 | steady | 1 | f | One-way gate
spacer-path | fastener | 0.35 | steady | 25 | tf | Underpath spacer
loom-path | connector | 6.4 | steady | 1 | m | Underpath loom
coil-reel | coil | 14.2 | scarce | 1 | o | Score reel coil
sleeve-reel | sleeve | 1.2 | steady | 1 | f | Score reel sleeve
plunger-reel | plunger | 6.2 | scarce | 1 | o | Score reel plunger
pawl-reel | bracket | 4.8 | steady | 1 | of | Score reel pawl
spring-reel | spring | 1.1 | steady | 10 | f | Score reel spring
strip-reel | cosmetic | 10.5 | scarce | 1 | o | Number strip
contact-reel | switch | 2.4 | steady | 10 | f | Score reel contact
disc-stepper | other | 16.0 | ended | 1 | o | Stepper rivet disc
wiper-stepper | other | 7.4 | scarce | 1 | o | Stepper wiper
fuse-slow | fuse | 0.62 | steady | 5 | mt | Fuse, slow
fuse-fast | fuse | 0.55 | steady | 5 | mt | Fuse, fast
clip-fuse | connector | 0.48 | steady | 10 | m | Fuse clip
bridge | other | 4.6 | steady | 1 | m | Bridge rectifier
cap-filter-large | capacitor | 8.9 | steady | 1 | m | Filter capacitor, large can
cap-filter-snap | capacitor | 5.2 | steady | 1 | m | Filter capacitor, snap-in
cap-small | capacitor | 0.7 | steady | 10 | mt | Small electrolytic capacitor
transistor-drive | other | 1.45 | steady | 10 | m | Drive transistor
regulator | other | 3.1 | steady | 1 | m | Voltage regulator
varistor | other | 1.1 | steady | 5 | m | Varistor
cord-mains | other | 9.4 | steady | 1 | m | Mains cord, earthed
holder-battery | other | 3.8 | steady | 1 | m | Battery holder, off the board
relay | other | 14.0 | scarce | 1 | o | Relay, rebuilt
board-logic-early | board | 172.0 | scarce | 1 | m | Logic board, early
board-logic-late | board | 188.0 | scarce | 1 | m | Logic board, late
board-drive | board | 214.0 | steady | 1 | m | Power and driver board
board-node | board | 129.0 | steady | 1 | m | Node board
glass-numeric | display | 62.0 | scarce | 1 | m | Numeric gas display
glass-alpha | display | 108.0 | ended | 1 | m | Alphanumeric gas display
panel-dots | display | 158.0 | steady | 1 | m | Dot-matrix panel
panel-colour | display | 236.0 | steady | 1 | m | Colour display panel
kit-rails | other | 9.6 | steady | 1 | m | Display rail rebuild kit
ribbon-display | connector | 3.6 | steady | 1 | m | Display ribbon cable
lamp-bayonet | lamp | 0.34 | steady | 10 | tm | Lamp, bayonet
lamp-wedge | lamp | 0.31 | steady | 10 | tm | Lamp, wedge
lamp-flash | lamp | 0.72 | steady | 10 | m | Flash lamp
led-module | lamp | 6.8 | steady | 1 | m | Lamp board module
socket-bayonet | connector | 1.25 | steady | 10 | mt | Lamp socket, bayonet
socket-wedge | connector | 0.95 | steady | 10 | mt | Lamp socket, wedge
diode-lamp | other | 0.08 | steady | 25 | m | Lamp diode
housing-small | connector | 0.55 | steady | 10 | m | Connector housing, small
housing-large | connector | 0.92 | steady | 10 | m | Connector housing, large
terminal-crimp | connector | 0.14 | steady | 100 | mt | Crimp terminal
header-square | connector | 1.6 | steady | 5 | m | Header strip, square pins
key-plug | connector | 0.09 | steady | 25 | m | Polarising plug
ring-tiny | ring | 0.38 | steady | 10 | t | Rubber ring, post size
ring-small | ring | 0.45 | steady | 10 | t | Rubber ring, small
ring-medium | ring | 0.58 | steady | 10 | t | Rubber ring, medium
ring-large | ring | 0.74 | steady | 5 | t | Rubber ring, large
ring-giant | ring | 0.96 | steady | 5 | t | Rubber ring, extra large
sleeve-post | ring | 0.36 | steady | 10 | t | Post sleeve
post-star | moulding | 0.78 | steady | 10 | ft | Star post
plastics-old | cosmetic | 148.0 | scarce | 1 | o | Plastics set, screen printed
plastics-mid | cosmetic | 132.0 | scarce | 1 | o | Plastics set, middle years
plastics-late | cosmetic | 118.0 | steady | 1 | o | Plastics set, late
ramp-formed | moulding | 136.0 | scarce | 1 | o | Ramp, vacuum formed
ramp-moulded | moulding | 98.0 | steady | 1 | o | Ramp, moulded
guide-lane | moulding | 1.9 | steady | 1 | f | Lane guide
protector | cosmetic | 1.2 | steady | 10 | o | Plastic protector
screw-wood | fastener | 0.06 | steady | 100 | t | Wood screw
nut-lock | fastener | 0.07 | steady | 100 | t | Lock nut
washer-nylon | fastener | 0.05 | steady | 100 | t | Nylon washer
leg | bracket | 21.5 | steady | 4 | ft | Leg
leveller | fastener | 2.3 | steady | 4 | tf | Leg leveller
bolt-leg | fastener | 0.85 | steady | 8 | tf | Leg bolt
rail-side | bracket | 34.0 | steady | 1 | f | Side rail
glass-top | other | 56.0 | steady | 1 | f | Playfield glass
lock-door | other | 5.4 | steady | 1 | f | Door lock
button-flip | moulding | 2.3 | steady | 1 | ft | Cabinet button
rod-shooter | plunger | 11.2 | steady | 1 | f | Shooter rod
spring-shooter | spring | 1.0 | steady | 5 | f | Shooter spring
tip-shooter | ring | 0.6 | steady | 10 | t | Shooter tip
decals-cabinet | cosmetic | 215.0 | scarce | 1 | o | Cabinet decal set
speaker | other | 17.5 | steady | 1 | m | Speaker
"""
