#include "units/unit_table.h"

#include <numbers>

namespace evenbeam::units {
namespace {

constexpr double pi = std::numbers::pi;
constexpr Dimension none{};
constexpr Dimension length{.length = 1};
constexpr Dimension mass{.mass = 1};
constexpr Dimension time{.time = 1};
constexpr Dimension current{.current = 1};
constexpr Dimension angle{.angle = 1};
constexpr Dimension temperature{.temperature = 1};
constexpr Dimension expansion{.temperature = -1};
constexpr Dimension frequency{.time = -1};
constexpr Dimension speed{.length = 1, .time = -1};
constexpr Dimension acceleration{.length = 1, .time = -2};
constexpr Dimension jerk{.length = 1, .time = -3};
constexpr Dimension force{.length = 1, .mass = 1, .time = -2};
constexpr Dimension impulse{.length = 1, .mass = 1, .time = -1};
constexpr Dimension moment{.length = 2, .mass = 1, .time = -2};
constexpr Dimension turning_impulse{.length = 2, .mass = 1, .time = -1};
constexpr Dimension inertia{.length = 2, .mass = 1};
constexpr Dimension stiffness{.mass = 1, .time = -2};
constexpr Dimension damping{.mass = 1, .time = -1};
constexpr Dimension yaw_stiffness{.length = 2, .mass = 1, .time = -2, .angle = -1};
constexpr Dimension yaw_damping{.length = 2, .mass = 1, .time = -1, .angle = -1};
constexpr Dimension angular_speed{.time = -1, .angle = 1};

constexpr Symbol table[] = {
    {"1", none},
    {"%", none, 1, 100},
    {"ppm", none, 1, 1e6},
    // A turn counts as a plain number, so that a lead may be written "20 mm/rev" and a speed 1/min or rpm.
    {"rev", none},
    {"turn", none},
    {"rpm", frequency, 1, 60},
    {"m", length},
    {"cm", length, 1, 100},
    {"mm", length, 1, 1e3},
    {"um", length, 1, 1e6},
    {"micron", length, 1, 1e6},
    {"nm", length, 1, 1e9},
    {"km", length, 1e3},
    {"in", length, 254, 1e4},  // SP 811 B.8: 25.4 mm exactly
    {"inch", length, 254, 1e4},
    {"ft", length, 3048, 1e4},  // SP 811 B.8: 0.3048 m exactly
    {"s", time},
    {"sec", time},
    {"ms", time, 1, 1e3},
    {"msec", time, 1, 1e3},
    {"us", time, 1, 1e6},
    {"usec", time, 1, 1e6},
    {"ns", time, 1, 1e9},
    {"min", time, 60},
    {"h", time, 3600},
    {"kg", mass},
    {"g", mass, 1, 1e3},
    {"mg", mass, 1, 1e6},
    {"t", mass, 1e3},
    {"lb", mass, 0.45359237},  // SP 811 B.8, exact
    {"N", force},
    {"mN", force, 1, 1e3},
    {"kN", force, 1e3},
    {"MN", force, 1e6},
    {"lbf", force, 4.4482216152605},  // lb times standard gravity 9.80665 m/s^2, both exact
    {"Nm", moment, 1, 1, 0, true},
    {"kNm", moment, 1e3, 1, 0, true},
    {"mNm", moment, 1, 1e3, 0, true},
    {"Ns", impulse, 1, 1, 0, true},
    {"kNs", impulse, 1e3, 1, 0, true},
    {"Nms", turning_impulse, 1, 1, 0, true},
    {"Hz", frequency},
    {"mHz", frequency, 1, 1e3},
    {"kHz", frequency, 1e3},
    {"MHz", frequency, 1e6},
    {"rad", angle},
    {"mrad", angle, 1, 1e3},
    {"urad", angle, 1, 1e6},
    {"nrad", angle, 1, 1e9},
    {"deg", angle, pi, 180},
    {"arcmin", angle, pi, 10800},
    {"arcsec", angle, pi, 648000},
    {"A", current},
    {"mA", current, 1, 1e3},
    {"K", temperature},
    {"mK", temperature, 1, 1e3},
    {"degC", temperature, 1, 1, 273.15},
};

constexpr DimensionName names[] = {
    {none, "a plain number", "no unit, or %"},
    {length, "a length", "m, mm, um, in"},
    {mass, "a mass", "kg, g, t"},
    {time, "a time", "s, ms, us, min"},
    {current, "a current", "A, mA"},
    {angle, "an angle", "rad, mrad, deg, arcsec"},
    {temperature, "a temperature", "degC, K"},
    {expansion, "an expansion coefficient", "ppm/K, 1/K"},
    {frequency, "a frequency", "Hz, kHz, 1/s, 1/min"},
    {speed, "a speed", "m/s, mm/s, m/min"},
    {acceleration, "an acceleration", "m/s^2, mm/s^2"},
    {jerk, "a jerk", "m/s^3, mm/s^3"},
    {force, "a force", "N, kN"},
    {moment, "a moment", "N*m, kN*m"},
    {inertia, "a moment of inertia", "kg*m^2, kg*cm^2"},
    {stiffness, "a stiffness", "N/m, N/um, N/mm"},
    {damping, "a damping", "N*s/m, kg/s"},
    {yaw_stiffness, "a yaw stiffness", "N*m/rad, kN*m/rad"},
    {yaw_damping, "a yaw damping", "N*m*s/rad"},
    {angular_speed, "an angular speed", "rad/s, deg/s"},
};

}  // namespace

std::span<const Symbol> symbols() { return table; }
std::span<const DimensionName> dimension_names() { return names; }

}  // namespace evenbeam::units
