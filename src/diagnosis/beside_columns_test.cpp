#include "diagnosis/beside_columns.h"

#include <doctest/doctest.h>

#include "base/near_test.h"

namespace evenbeam::diagnosis {

// y = 0 1 0 1 beside a constant: y off it -1/2 1/2 -1/2 1/2; z = 0 1 2 3 off it -3/2 -1/2 1/2 3/2; z'y = 1, z'z = 5,
// y'y = 1: c = 1/5, left 1 - 1/5; its standard error sqrt(0.8/2/5) as any line through four points has
TEST_CASE("one more column by hand") {
  const Eigen::MatrixXd constant = Eigen::MatrixXd::Ones(4, 1);
  const Eigen::Vector4d y(0, 1, 0, 1), z(0, 1, 2, 3);
  const OneMore found = BesideColumns(constant, y, 4).with(z);
  CHECK(found.coefficient == base::test::near(0.2));
  CHECK(found.left == base::test::near(0.8));
  CHECK(found.rest_rms == base::test::near(0.5));
  CHECK(found.standard_error == base::test::near(0.2828427));
}

TEST_CASE("a column that the others make explains nothing") {
  Eigen::MatrixXd columns(4, 2);
  columns << 1, 0, 1, 1, 1, 2, 1, 3;
  const Eigen::Vector4d y(0, 1, 0, 1), z(5, 7, 9, 11);
  CHECK(BesideColumns(columns, y, 4).with(z).left == 1);
  CHECK(BesideColumns(columns, y, 4).with(z).coefficient == 0);
}

}  // namespace evenbeam::diagnosis
