// networks/workshop.toml, letter for letter (a test compares them): the demo works without any file.
#include "sources/demo_workshop.hpp"

namespace lostspark::sources {

const char* demo_workshop_text() {
  return R"toml(# The demo's workshop: what it owns and what its time costs. Ranges and accuracies are judgement for ordinary tools of
# each kind; state those of your own instruments instead.
format = 1

[workshop]
title = "Quillmarsh Workshop"
helper = true
labour_rate_per_hour = 60
check_min = 5
refer_min = 600
comeback_min = 90

# One row for each unit an instrument reads. An ordinary multimeter averages pulses: it is never a peak voltmeter.
[[instrument]]
id = "peak_meter"
title = "peak-reading voltmeter"
kind = "peak_voltmeter"
unit = "volt"
accuracy = 0.03
step = 0.1
floor = 0.5
range = 600
input_ohm = 2e6
rise_time_second = 2e-6

[[instrument]]
id = "ohm_meter"
title = "ohmmeter"
kind = "ohmmeter"
unit = "ohm"
accuracy = 0.01
step = 0.1
floor = 0.1
range = 2e7

[[instrument]]
id = "multimeter_volts"
title = "multimeter, volts"
kind = "multimeter"
unit = "volt"
accuracy = 0.01
step = 0.01
floor = 0.01
range = 1000
input_ohm = 1e7
rise_time_second = 0.1

[[instrument]]
id = "multimeter_ohms"
title = "multimeter, ohms"
kind = "multimeter"
unit = "ohm"
accuracy = 0.01
step = 0.1
floor = 0.1
range = 2e7

[[instrument]]
id = "kv_clip"
title = "capacitive kilovolt pickup"
kind = "kv_pickup"
unit = "kilovolt"
accuracy = 0.2
step = 0.1
floor = 0.5
range = 45

[[instrument]]
id = "lead_clamp"
title = "inductive current pickup"
kind = "current_pickup"
unit = "ampere"
accuracy = 0.1
step = 0.001
floor = 0.005
range = 30

# Clamped on the lead and watched: current never, now and then, at every turn.
[[instrument]]
id = "lead_clamp_seen"
title = "inductive current pickup, watched"
kind = "current_pickup"
unit = "word"
accuracy = 0.1

[[instrument]]
id = "spark_gap"
title = "adjustable spark gap tester"
kind = "gap_tester"
unit = "kilovolt"
accuracy = 0.1
step = 0.5
floor = 2
range = 30

# Watching the gap: sparks never, now and then, at every turn.
[[instrument]]
id = "spark_gap_seen"
title = "spark gap tester, watched"
kind = "gap_tester"
unit = "word"
accuracy = 0.05

[[instrument]]
id = "eyes"
title = "eyes, hands and a lamp"
kind = "eyes"
unit = "word"
accuracy = 0

[[instrument]]
id = "timing_lamp"
title = "inductive timing light"
kind = "timing_light"
unit = "word"
accuracy = 0

[[instrument]]
id = "timing_lamp_rpm"
title = "timing light, speed"
kind = "timing_light"
unit = "rpm"
accuracy = 0.02
step = 10
floor = 100
range = 20000

[[instrument]]
id = "dwell_meter"
title = "dwell meter"
kind = "dwell_meter"
unit = "degree"
accuracy = 0.02
step = 1
floor = 2
range = 180
)toml";
}

}  // namespace lostspark::sources
