"""A physical simulation of a rotary torque rig and the people on it.

Tests compare the analysis with what this simulation knows to be true, and the invented sample
workspace is made from it. From the muscle to the file:

    muscle      torque over angle and speed: the published form, and curves with closed-form work
    lever       where the lever is: ramps, overshoot when the limb is caught, dwells, holds
    recording   what the rig's sensor sees: muscle, limb weight, inertia, stop impact; the truth beside it
    acquisition what reaches the file: noise, encoder and converter steps, clipping, jitter, drop-outs
    writers     CSV text in our columns or in foreign ones
    rig         the rig on the check masses: slope, tare, hysteresis, drift, display step
    sample_team one invented travelling team, its athletes, visits and recordings

Signs: angles in anatomical degrees; torque is what the limb exerts on the lever, positive towards
larger angles, so the weight of a limb that gravity pulls towards larger angles is positive.
Nothing here imports fieldlog: physics is written a second time on purpose, so that a mistake in the
product cannot hide in its own test data. Randomness comes from seeded generators whose stream NumPy
promises never to change, and writers round, so the same call writes the same text everywhere.
"""
