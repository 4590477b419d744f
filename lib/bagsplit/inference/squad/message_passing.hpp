#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "bagsplit/inference/reading/player_data.hpp"
#include "bagsplit/inference/squad/gaussian.hpp"
#include "bagsplit/inference/squad/squad_member.hpp"

/// The shared quantities of a squad at given scales, by expectation propagation (Minka 2001, UAI 17:362-369); stays
/// inside the module. Each member's exact posterior under what all others say is turned into a Gaussian message.
namespace bagsplit::inference {

/// Where the messages stand, at some scales.
struct MessageFit {
  Gaussian shared;
  std::vector<SharedMessage> messages;  ///< one a member
  std::vector<motion::Sprint> modes;
  std::vector<double> logs;   ///< of the messages' constants
  std::vector<double> slips;  ///< how many slips a member seems to have
  double log_evidence = 0.0;
  /// By the last sweep, had it gone all of its way: of the shared means, in SDs, or of the logarithms of these SDs,
  /// whichever is most.
  double moved = 0.0;
  bool sound = true;     ///< the last sweep led to a distribution
  bool settled = false;  ///< nothing moves any more, and every member's message is that of its posterior
};

class MessagePassing {
 public:
  /// Spans stay with the caller.  @throws std::invalid_argument
  MessagePassing(std::span<const SquadMember> members, std::span<const Normal> shared,
                 std::span<const TermMeans> term_means, unsigned threads);

  /// Messages that say nothing.
  MessageFit start() const;
  /// Passes until the shared quantities stay where they are. Where they swing to and fro, here and from here on
  /// messages go half of the way only.
  MessageFit settle(const SquadScales& scales, const MessageFit& from, int most);
  /// The evidence near, from messages settled at other scales: its error is of second order.
  MessageFit look(const SquadScales& scales, const MessageFit& from);
  double slip_rate() const { return slip_rate_; }
  /// Takes the rate from the slips there seem to be and the prior's, weighed as so many readings: a step of
  /// expectation maximisation.
  void learn_slip_rate(const MessageFit& fit);
  int sweeps() const { return sweeps_; }  ///< passes over all members so far

 private:
  struct Anchor;

  MessageFit sweep(const SquadScales& scales, const MessageFit& from);
  Anchor update(std::size_t i, const SquadScales& scales, const MessageFit& from, MessageFit& to) const;
  double go_as_far_as_sound(MessageFit& to, const MessageFit& from) const;
  bool combine(MessageFit& fit) const;

  std::span<const SquadMember> members_;
  std::span<const Normal> shared_;
  std::span<const TermMeans> term_means_;
  std::vector<SharedLinks> links_;
  std::vector<std::uint32_t> all_;  // shared quantities
  unsigned threads_ = 1;
  double share_ = 1.0;  // of the way from a member's old message to its new one that is gone
  double slip_rate_ = 0.0;
  std::vector<double> chances_;  // of slips, of each member
  int sweeps_ = 0;
};

}  // namespace bagsplit::inference
