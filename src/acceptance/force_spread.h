#pragma once
// How well one record tells the RMS force of a move that is made again and again: the scatter of its strokes.
//   q_k  mean square force over stroke k and the rest after it,  F = sqrt(mean q)
//   half width of F at 95 %  =  F t_(0.975, n-1) s(q)/(2 sqrt(n) mean q)      (GUM type A, first order)
// Strokes out and back count alike: what differs between the two ways widens it.
#include <optional>
#include <vector>

#include "acceptance/strokes.h"

namespace evenbeam::acceptance {

// As part of F; nullopt with fewer than four strokes whose stop and rest are on record, or without force in them.
std::optional<double> rms_half_width(const std::vector<double>& force_n, const std::vector<Stroke>& strokes);

}  // namespace evenbeam::acceptance
