// Who ran: runs seen by gates given to the lines of a start list. Not installed.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "bagsplit/gates/detail/gate_chains.hpp"
#include "bagsplit/gates/gate_runs.hpp"

namespace bagsplit::gates::detail {

/// A break of the start that no other gate follows.
struct LoneStart {
  std::int64_t time_ns = 0;
  double t_s = 0.0;
  std::size_t clock = 0;
  std::size_t line = 0;
};

/// "62 %".
std::string whole_percent(double chance);

/// Gives runs their players, trials, flags and notes; says what is open and asks about the run that would settle most;
/// adds lines of the list that are marked absent, and those with a flag whose run no gate but the start saw.
/// @param out  its runs, one for each of `chains.runs`, in that order.
void name_runs(GateRuns& out, const Chains& chains, std::span<const LoneStart> lone, const GateLog& log,
               const StartList& starts, const GateRules& rules, std::int64_t origin_ns, text::Problems& problems);

}  // namespace bagsplit::gates::detail
