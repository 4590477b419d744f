#pragma once

#include <cstddef>
#include <vector>

/// A small dense symmetric system that need not be definite. Internal to basepath.
namespace bagsplit::basepath::symmetric {

/// Solves A x = b by Bunch and Parlett's factorisation with complete pivoting (1x1 and 2x2 pivots).
/// @param a  n x n, row-major, symmetric; overwritten.  @param b  n values; the solution on return.
/// @return   number of negative eigenvalues of A (Sylvester's law of inertia), or -1 where A is singular or not finite.
/// Cost: n^3/6 multiplications and n^3/6 comparisons.
/// Source: Bunch & Parlett (1971), SIAM J Numer Anal 8:639-655, doi:10.1137/0708060.
int solve(std::vector<double>& a, std::vector<double>& b);

}  // namespace bagsplit::basepath::symmetric
