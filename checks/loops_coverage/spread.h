#pragma once
// How far the settings proposed move when the fit moves inside its own doubt.
#include <cstdint>

namespace evenbeam::checks {

// Of the demo (count 0) or machines of demo/generator: `draws` fits drawn from the joint doubt, each tuned; gains,
// forecast and peak sensitivity on the plant as fitted, and for the demo the skew trip. Prints; 1 where no settings
// were found.
int spread(int draws, unsigned long from, unsigned long count);

}  // namespace evenbeam::checks
