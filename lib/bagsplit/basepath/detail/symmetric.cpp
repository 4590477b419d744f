#include "bagsplit/basepath/detail/symmetric.hpp"

#include <cmath>
#include <utility>

namespace bagsplit::basepath::symmetric {

namespace {

class Factor {
 public:
  Factor(std::vector<double>& a, std::vector<double>& b) : a_(a), b_(b), n_(b.size()), place_(n_), pair_(n_, false) {
    for (std::size_t i = 0; i < n_; ++i) {
      place_[i] = i;
    }
  }

  int run() {
    for (std::size_t k = 0; k < n_;) {
      std::size_t diagonal = k;
      std::size_t row = k;
      std::size_t column = k;
      double largest_diagonal = 0.0;
      double largest = 0.0;
      for (std::size_t i = k; i < n_; ++i) {
        if (std::fabs(at(i, i)) > largest_diagonal) {
          largest_diagonal = std::fabs(at(i, i));
          diagonal = i;
        }
        for (std::size_t j = k; j < i; ++j) {
          if (std::fabs(at(i, j)) > largest) {
            largest = std::fabs(at(i, j));
            row = i;
            column = j;
          }
        }
      }
      if (!(largest_diagonal + largest > 0.0) || !std::isfinite(largest_diagonal + largest)) {
        return -1;
      }
      constexpr double threshold = 0.6403882032022076;  // (1 + sqrt 17)/8
      if (largest_diagonal >= threshold * largest) {
        swap(k, diagonal);
        eliminate_one(k);
        k += 1;
      } else {
        swap(k, column);
        swap(k + 1, row);
        eliminate_two(k);
        k += 2;
      }
    }
    back();
    return negative_;
  }

 private:
  double& at(std::size_t i, std::size_t j) { return a_[i * n_ + j]; }

  void swap(std::size_t i, std::size_t j) {
    if (i == j) {
      return;
    }
    for (std::size_t k = 0; k < n_; ++k) {
      std::swap(at(i, k), at(j, k));
    }
    for (std::size_t k = 0; k < n_; ++k) {
      std::swap(at(k, i), at(k, j));
    }
    std::swap(b_[i], b_[j]);
    std::swap(place_[i], place_[j]);
  }

  void eliminate_one(std::size_t k) {
    const double d = at(k, k);
    negative_ += d < 0.0 ? 1 : 0;
    for (std::size_t i = k + 1; i < n_; ++i) {
      const double l = at(i, k) / d;
      for (std::size_t j = k + 1; j <= i; ++j) {
        at(i, j) -= l * at(j, k);
        at(j, i) = at(i, j);
      }
      b_[i] -= l * b_[k];
    }
    for (std::size_t i = k + 1; i < n_; ++i) {
      at(i, k) /= d;
    }
  }

  void eliminate_two(std::size_t k) {
    const double p = at(k, k);
    const double q = at(k + 1, k);
    const double r = at(k + 1, k + 1);
    const double determinant = p * r - q * q;  // negative: the pivot is indefinite by the choice of rows
    negative_ += 1;
    pair_[k] = true;
    std::vector<double> first(n_), second(n_);
    for (std::size_t i = k + 2; i < n_; ++i) {
      first[i] = (at(i, k) * r - at(i, k + 1) * q) / determinant;
      second[i] = (at(i, k + 1) * p - at(i, k) * q) / determinant;
    }
    for (std::size_t i = k + 2; i < n_; ++i) {
      for (std::size_t j = k + 2; j <= i; ++j) {
        at(i, j) -= first[i] * at(j, k) + second[i] * at(j, k + 1);
        at(j, i) = at(i, j);
      }
      b_[i] -= first[i] * b_[k] + second[i] * b_[k + 1];
    }
    for (std::size_t i = k + 2; i < n_; ++i) {
      at(i, k) = first[i];
      at(i, k + 1) = second[i];
    }
  }

  void back() {
    std::vector<double> x(n_);
    for (std::size_t i = 0; i < n_; ++i) {
      if (pair_[i]) {
        const double p = at(i, i);
        const double q = at(i + 1, i);
        const double r = at(i + 1, i + 1);
        const double determinant = p * r - q * q;
        x[i] = (b_[i] * r - b_[i + 1] * q) / determinant;
        x[i + 1] = (b_[i + 1] * p - b_[i] * q) / determinant;
        ++i;
      } else {
        x[i] = b_[i] / at(i, i);
      }
    }
    for (std::size_t i = n_; i-- > 0;) {
      for (std::size_t j = pair_[i] ? i + 2 : i + 1; j < n_; ++j) {
        x[i] -= at(j, i) * x[j];
      }
    }
    for (std::size_t i = 0; i < n_; ++i) {
      b_[place_[i]] = x[i];
    }
  }

  std::vector<double>& a_;
  std::vector<double>& b_;
  std::size_t n_;
  std::vector<std::size_t> place_;
  std::vector<bool> pair_;
  int negative_ = 0;
};

}  // namespace

int solve(std::vector<double>& a, std::vector<double>& b) {
  return Factor(a, b).run();
}

}  // namespace bagsplit::basepath::symmetric
