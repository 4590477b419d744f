#pragma once

#include <cstddef>
#include <vector>

/// Interpolation by cubic B-splines on an even grid. Internal to basepath.
namespace bagsplit::basepath::spline_fit {

/// Coefficients (nx + 2) x (ny + 2) of the tensor of cubic B-splines through nx x ny values, row-major. In each
/// direction the two extra conditions are that the third derivative does not jump at the second and last but one node
/// ("not a knot").
/// @throws std::invalid_argument unless nx and ny are at least 5 and the values are nx times ny.
std::vector<double> tensor(const std::vector<double>& values, std::size_t nx, std::size_t ny);

}  // namespace bagsplit::basepath::spline_fit
