#include "bagsplit/record/detail/pair_hmm.hpp"

#include <cmath>

namespace bagsplit::record::detail {

namespace {

// The three states before each cell, each row divided by its greatest value.
struct Lattice {
  BandTable both, rows_only, columns_only;
  std::vector<double> log_scale;  // by row, of all that it was divided by

  Lattice(std::size_t n, std::size_t m, std::size_t half)
      : both(n + 1, m + 1, half),
        rows_only(n + 1, m + 1, half),
        columns_only(n + 1, m + 1, half),
        log_scale(n + 1, 0.0) {}

  void scale(std::size_t i, double before) {
    double most = 1e-300;
    for (std::size_t j = both.begin(i); j < both.end(i); ++j) {
      most = std::max({most, both.get(i, j), rows_only.get(i, j), columns_only.get(i, j)});
    }
    for (std::size_t j = both.begin(i); j < both.end(i); ++j) {
      both.cell(i, j) /= most;
      rows_only.cell(i, j) /= most;
      columns_only.cell(i, j) /= most;
    }
    log_scale[i] = before + std::log(most);
  }
};

class PairSum {
 public:
  PairSum(const BandTable& log_odds, const PairMoves& moves)
      : n_(log_odds.rows()),
        m_(log_odds.columns()),
        moves_(moves),
        odds_(n_, m_, log_odds.half()),
        ahead_(n_, m_, log_odds.half() + 1),
        behind_(n_, m_, log_odds.half() + 1) {
    for (std::size_t i = 0; i < n_; ++i) {
      for (std::size_t j = odds_.begin(i); j < odds_.end(i); ++j) {
        odds_.cell(i, j) = std::exp(log_odds.get(i, j));
      }
    }
  }

  BandTable chances(double* log_total) {
    forward();
    backward();
    const double log_z = behind_.log_scale[0] + std::log(std::max(behind_.both.get(0, 0), 1e-300));
    if (log_total != nullptr) {
      *log_total = log_z;
    }
    BandTable out(n_, m_, odds_.half());
    for (std::size_t i = 0; i < n_; ++i) {
      const double one = std::exp(ahead_.log_scale[i] + behind_.log_scale[i + 1] - log_z);
      const double two = i + 2 <= n_ ? std::exp(ahead_.log_scale[i] + behind_.log_scale[i + 2] - log_z) : 0.0;
      for (std::size_t j = out.begin(i); j < out.end(i); ++j) {
        out.cell(i, j) += into_both(i, j) * odds_.get(i, j) * behind_.both.get(i + 1, j + 1) * one;
        const double swapped = into_swap(i, j) * swap(i, j) * behind_.both.get(i + 2, j + 2) * two;
        if (swapped > 0.0) {
          out.cell(i, j + 1) += swapped;
          out.cell(i + 1, j) += swapped;
        }
      }
    }
    for (std::size_t i = 0; i < n_; ++i) {
      for (std::size_t j = out.begin(i); j < out.end(i); ++j) {
        out.cell(i, j) = std::clamp(out.cell(i, j), 0.0, 1.0);
      }
    }
    return out;
  }

 private:
  double on() const { return 1.0 - 2.0 * moves_.miss - moves_.swap; }
  double both_again() const { return 1.0 - moves_.again - other(); }
  double other() const { return moves_.miss * moves_.miss; }
  // Rows i, i+1 with columns j+1, j.
  double swap(std::size_t i, std::size_t j) const { return moves_.swap * odds_.get(i, j + 1) * odds_.get(i + 1, j); }
  double into_both(std::size_t i, std::size_t j) const {
    return ahead_.both.get(i, j) * on() + (ahead_.rows_only.get(i, j) + ahead_.columns_only.get(i, j)) * both_again();
  }
  double into_swap(std::size_t i, std::size_t j) const {
    return ahead_.both.get(i, j) + ahead_.rows_only.get(i, j) + ahead_.columns_only.get(i, j);
  }

  void forward() {
    Lattice& f = ahead_;
    f.both.cell(0, 0) = 1.0;
    for (std::size_t i = 0; i <= n_; ++i) {
      const double before = i > 0 ? f.log_scale[i - 1] : 0.0;
      const double two_back = i > 1 ? std::exp(f.log_scale[i - 2] - before) : 0.0;
      for (std::size_t j = f.both.begin(i); j < f.both.end(i); ++j) {
        if (i > 0) {
          f.rows_only.cell(i, j) = f.both.get(i - 1, j) * moves_.miss + f.rows_only.get(i - 1, j) * moves_.again +
                                   f.columns_only.get(i - 1, j) * other();
          if (j > 0) {
            f.both.cell(i, j) = odds_.get(i - 1, j - 1) * into_both(i - 1, j - 1);
          }
          if (i > 1 && j > 1) {
            f.both.cell(i, j) += swap(i - 2, j - 2) * into_swap(i - 2, j - 2) * two_back;
          }
        }
        if (j > 0) {
          f.columns_only.cell(i, j) = f.both.get(i, j - 1) * moves_.miss + f.rows_only.get(i, j - 1) * other() +
                                      f.columns_only.get(i, j - 1) * moves_.again;
        }
      }
      f.scale(i, before);
    }
  }

  void backward() {
    Lattice& b = behind_;
    for (std::size_t i = n_ + 1; i-- > 0;) {
      const double after = i < n_ ? b.log_scale[i + 1] : 0.0;
      const double two_on = i + 2 <= n_ ? std::exp(b.log_scale[i + 2] - after) : 0.0;
      for (std::size_t j = b.both.end(i); j-- > b.both.begin(i);) {
        const double pair = i < n_ && j < m_ ? odds_.get(i, j) * b.both.get(i + 1, j + 1) : 0.0;
        const double crossed = i + 2 <= n_ && j + 2 <= m_ ? swap(i, j) * b.both.get(i + 2, j + 2) * two_on : 0.0;
        const double end = i == n_ && j == m_ ? 1.0 : 0.0;
        const double rows_next = b.rows_only.get(i + 1, j);
        const double columns_next = b.columns_only.get(i, j + 1);
        b.both.cell(i, j) = pair * on() + (rows_next + columns_next) * moves_.miss + crossed + end;
        b.rows_only.cell(i, j) =
            pair * both_again() + rows_next * moves_.again + columns_next * other() + crossed + end;
        b.columns_only.cell(i, j) =
            pair * both_again() + rows_next * other() + columns_next * moves_.again + crossed + end;
      }
      b.scale(i, after);
    }
  }

  std::size_t n_, m_;
  PairMoves moves_;
  BandTable odds_;
  Lattice ahead_, behind_;
};

}  // namespace

BandTable pair_chances(const BandTable& log_odds, const PairMoves& moves, double* log_total) {
  return PairSum(log_odds, moves).chances(log_total);
}

}  // namespace bagsplit::record::detail
