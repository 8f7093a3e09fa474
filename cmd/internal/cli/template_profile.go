package cli

// profileTemplate is the simulator.yaml of a template: two keys that suit the
// example rows, and every other one as a comment to be filled in. It states no band:
// bands are those of the simulator in use.
const profileTemplate = `# The simulator in use. What a key names is a rule of check and a fact of
# analyze; what is left out is neither. Numbers carry their unit (kPa, psi, L,
# gal, m, ft, %). Take away the # of what you know, and put your figures for N.
#
# Keys at the top are for every simulator; those below a name of
# runs.simulator are for that one.
simulators:
  trailer-1:
    # places across the table, as in plots.position and cans.position
    positions: [P1, P2, P3, P4, P5]

    # every run has to say level_confirmed: true
    confirm_level: true

    # how many plots lie under it
    # plots: N

    # nozzles that spray at a time, the flow of one and the pressure of that
    # flow; speed of the drops at the nozzle only where it was measured
    # nozzle: {count: N, flow: N L/min, at: N kPa, speed: N m/s}

    # the band of pressure at the gauge that makes a good rain; flagged outside,
    # never corrected
    # pressure: {from: N kPa, to: N kPa}

    # from the nozzle down to the plots
    # fall_height: N m

    # part of the water that the trays return to the tank
    # tray_share: N %

    # what the tank holds, and what the pump cannot draw
    # tank: {volume: N L, heel: N L}

    # how well the rain comes back after a new set-up: standard deviation over
    # the mean; leave it out where the season's catch cans are to tell
    # repeatability: N %

    # classes of slope, where the crew notes classes
    # slope_classes: [0-1 %, 1-3 %, 3-5 %]

    # how late the first bottle may begin after the start of runoff, and with
    # what share of the plot's largest rate where no start was noted
    # first_bottle: {within: 60 s, share: 20 %}

    # kinds of cover that do not suit a use of the land
    # cover:
    #   - {land_use: [meadow, pasture], unsuited: [straw, stubble]}

    # drop sizes as they were measured, one edge more than counts; or a file
    # of the instrument: {file: drops.txt}
    # drops: {edges_mm: [N, N, N], counts: [N, N]}
    # energy_uncertainty: N %
`
