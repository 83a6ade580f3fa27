#pragma once
// Papers of a small invented machine, for tests that simulate its captures.
namespace evenbeam::workflow::test {

inline constexpr const char* small_portal = R"(format = "evenbeam.machine/1"
name = "invented portal"
span = "1.6 m"
[bridge]
mass = "120 kg"
end_mass = "18 kg"
[carriage]
mass = "40 kg"
min_y = "-0.6 m"
max_y = "0.6 m"
stands_at_y = "0.2 m"
payload_max = "15 kg"
[side]
drive = "screw"
lead = "20 mm"
drive_inertia = "8e-4 kg*m^2"
peak_force = "1800 N"
count = "0.5 um"
[guides]
ends = "bolted"
stated_skew_limit = "2 mm"
yaw_stiffness = "6e5 N*m/rad"
[controller]
servo_period = "500 us"
delay_samples = 1
)";

}  // namespace evenbeam::workflow::test
