#pragma once
// What the fit's joint doubt does to the solution of one box (docs/certificate.md, "the fit's doubt"). Internal to
// tuning.
//   J = sum_k c_k J_k,  J_k = A sum_i along_ik u_i v_i^T,  |c| <= 1
//   |J x|_P <= contraction |x|_P,   |a^T J x| <= size of a's row |x|_P,   |x|_P^2 = x* P x over coordinates and
//   inputs
// P is near the one for which the contraction is least: the fixed point of P -> sum over directions of J_k* P J_k.
#include <optional>

#include "tuning/certificate_box.h"

namespace evenbeam::tuning {

inline constexpr int most_rows = 64;  // each unknown, and what else is seen by spots
using Inverse = Eigen::Matrix<Complex, Eigen::Dynamic, Eigen::Dynamic, 0, most_unknowns, most_unknowns>;
using Columns = Eigen::Matrix<Complex, Eigen::Dynamic, Eigen::Dynamic, 0, most_unknowns, most_spots>;
using Lines = Eigen::Matrix<Complex, Eigen::Dynamic, Eigen::Dynamic, 0, most_rows, most_unknowns>;
using Answer = Eigen::Matrix<Complex, Eigen::Dynamic, 4, 0, most_unknowns, 4>;
using Values = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, most_rows, most_rows>;
using Sizes = Eigen::Matrix<double, Eigen::Dynamic, 1, 0, most_spots, 1>;

// Rows a^T J_k or columns J_k x of all directions k, in coordinates in which P is 1: of each row sum_k (a^T J_k)*
// (a^T J_k), of each column sum_k (J_k x)(J_k x)*, side by side.
struct Fans {
  Eigen::MatrixXcd squares;
  Sizes size;  // greatest |sum c_k of them|
};

class JointPart {
 public:
  // nullopt where nothing is bounded. `along`: Numbers::along.
  static std::optional<JointPart> of(const BoxModel& model, const Inverse& inverse, const Eigen::MatrixXd& along);
  bool any() const { return moved_.cols() > 0; }
  double contraction() const { return contraction_; }
  Sizes size(const Columns& x) const;  // |x|_P of each column
  Fans rows(const Lines& a) const;
  Fans columns(const Columns& x) const;
  // Greatest |a^T J x| and |a^T J J x|, each row with each column.
  Values once(const Fans& rows, const Columns& x) const;
  Values twice(const Fans& rows, const Fans& columns) const;
  // - a^T A u_i v_i^T x by i, and the covariance of what they are multiplied with.
  std::vector<Eigen::Matrix4cd> first_order(const Lines& a, const Answer& x) const;
  const Eigen::MatrixXd& spread() const { return spread_; }

 private:
  using Wide = Eigen::Matrix<Complex, Eigen::Dynamic, Eigen::Dynamic, 0, most_unknowns, most_joint>;
  using Tall = Eigen::Matrix<Complex, Eigen::Dynamic, Eigen::Dynamic, 0, most_joint, most_unknowns>;
  Eigen::MatrixXd along_, spread_;
  double contraction_ = 0;
  Inverse root_;             // |x|_P = |root x|
  Wide moved_, moved_here_;  // A u_i, and where P is 1
  Tall seen_, seen_here_;    // v_i
};

}  // namespace evenbeam::tuning
