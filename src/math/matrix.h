#pragma once
// A plain dense real matrix, column by column, so that headers need no linear-algebra library.
#include <cstddef>
#include <vector>

#include "base/check.h"

namespace evenbeam::math {

struct Matrix {
  std::size_t rows = 0, columns = 0;
  std::vector<double> values;  // rows * columns, column-major

  Matrix() = default;
  Matrix(std::size_t row_count, std::size_t column_count, double value = 0)
      : rows(row_count), columns(column_count), values(row_count * column_count, value) {}
  double& operator()(std::size_t row, std::size_t column) { return values[column * rows + row]; }
  double operator()(std::size_t row, std::size_t column) const { return values[column * rows + row]; }
};

}  // namespace evenbeam::math
