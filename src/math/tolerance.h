#pragma once
// Statistical tolerance intervals: at the stated confidence they hold the stated part of all future values.
//   normal, two-sided: mean +- k s, k from   integral phi(z; 0, 1/n) P(chi2_nu > nu r(z)^2/k^2) dz = confidence,
//                      nu = n - 1, r(z): Phi(z + r) - Phi(z - r) = content      [ISO 16269-6:2014, exact factors; the
//                      equation is that of Wald and Wolfowitz 1946; numbers of the standard are not copied here]
//   any distribution:  smallest..largest of n values hold `content` with confidence
//                      1 - n content^(n-1) + (n - 1) content^n                  [Wilks 1941; ISO 16269-6, annex]
namespace evenbeam::math {

// n >= 2; content and confidence strictly between 0 and 1.
double two_sided_tolerance_factor(int n, double content, double confidence);
double extremes_confidence(int n, double content);
// Fewest values whose extremes hold `content` with `confidence`.
int extremes_sample_size(double content, double confidence);

}  // namespace evenbeam::math
