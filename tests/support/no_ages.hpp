#pragma once

/// Thirty runs of ten players of whom only the times are known: no roster, so no ages. Invented: V about 5 m/s (SD 0.06
/// of it), tau about 1 s (SD 0.1 of it), starts of SD 0.05 s, presses of SD 0.05 s.
namespace bagsplit_test {

inline constexpr const char* no_ages_log = R"(# device: stopwatch
# start: signal
date,player,course,timer,10m,20m
2026-05-01,1,straight,AK,3.10,5.09
2026-05-01,1,straight,AK,3.18,5.14
2026-05-01,1,straight,AK,3.13,5.20
2026-05-01,2,straight,AK,2.98,5.04
2026-05-01,2,straight,AK,2.91,4.96
2026-05-01,2,straight,AK,3.03,5.08
2026-05-01,3,straight,AK,2.89,4.94
2026-05-01,3,straight,AK,2.82,4.76
2026-05-01,3,straight,AK,2.75,4.81
2026-05-01,4,straight,AK,2.75,4.62
2026-05-01,4,straight,AK,2.74,4.67
2026-05-01,4,straight,AK,2.65,4.55
2026-05-01,5,straight,AK,3.14,5.15
2026-05-01,5,straight,AK,3.02,5.12
2026-05-01,5,straight,AK,3.10,5.37
2026-05-01,6,straight,AK,3.17,5.21
2026-05-01,6,straight,AK,3.17,5.37
2026-05-01,6,straight,AK,3.15,5.31
2026-05-01,7,straight,AK,2.72,4.47
2026-05-01,7,straight,AK,2.59,4.51
2026-05-01,7,straight,AK,2.60,4.41
2026-05-01,8,straight,AK,3.07,4.94
2026-05-01,8,straight,AK,2.82,4.89
2026-05-01,8,straight,AK,3.02,5.09
2026-05-01,9,straight,AK,3.00,5.14
2026-05-01,9,straight,AK,3.02,5.20
2026-05-01,9,straight,AK,3.05,5.04
2026-05-01,10,straight,AK,2.78,4.82
2026-05-01,10,straight,AK,2.93,4.88
2026-05-01,10,straight,AK,2.93,4.97
)";
inline constexpr double no_ages_top_speed_mps[] = {5.028, 4.991, 5.021, 5.342, 4.713,
                                                   4.845, 5.584, 4.940, 5.101, 5.090};

}  // namespace bagsplit_test
