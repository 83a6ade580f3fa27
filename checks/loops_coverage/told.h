#pragma once
// Which machines get settings and which do not, and why: fit and proposal alone, without forecasts or certificate.
namespace evenbeam::checks {
// Machines of demo/generator. Prints a line each and where the nearest settings break the promise; 1 where a machine
// made the program fail.
int told(unsigned long from, unsigned long count);
}  // namespace evenbeam::checks
