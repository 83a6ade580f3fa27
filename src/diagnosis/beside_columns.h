#pragma once
// What one more column explains of y beyond columns that are always there:  y = X b + c z + rest.
// X is orthogonalised once (Householder QR); y and each z are then projected off it, so that trying many z is cheap:
//   c = z'y/z'z of the projected ones, left = 1 - (z'y)^2/(z'z y'y): part of the rest's square that stays with z.
// Frisch and Waugh 1933; from memory. Standard error of c from rows taken as `independent` ones, for neighbours in
// time share their errors.
#include <Eigen/Core>

namespace evenbeam::diagnosis {

struct OneMore {
  double coefficient = 0, standard_error = 0;
  double left = 1;      // 0..1
  double rest_rms = 0;  // of y without z
};

class BesideColumns {
 public:
  BesideColumns(const Eigen::MatrixXd& columns, const Eigen::VectorXd& y, double independent);
  OneMore with(const Eigen::VectorXd& z) const;

 private:
  Eigen::VectorXd off(const Eigen::VectorXd& v) const;
  Eigen::MatrixXd basis_;  // orthonormal
  Eigen::VectorXd rest_;
  double independent_ = 1;
};

}  // namespace evenbeam::diagnosis
