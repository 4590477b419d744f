#include "squad_calibration/world.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "bagsplit/inference/prior/prior.hpp"
#include "bagsplit/inference/prior/prior_rule.hpp"
#include "bagsplit/inference/squad/squad_model.hpp"
#include "bagsplit/stats/random.hpp"
#include "bagsplit/stats/t_interval.hpp"

namespace bagsplit::test {

namespace {

using inference::TermKind;

// The log with times that only hold the places: the model's times are put in afterwards.
std::string layout(stats::RandomStream& random) {
  const std::size_t players = 6 + random.below(9);
  const std::size_t runs = 2 + random.below(5);
  const bool gates = random.below(3) == 0;
  const std::size_t dates = 1 + random.below(2);
  std::string log =
      "# base-distance: 60 ft\n# start: "
      "signal\ndate,player,course,trial,timer,device,posture,start,10m,20m,first,second,third,home\n";
  for (std::size_t date = 0; date < dates; ++date) {
    const std::string day = "2026-05-0" + std::to_string(2 + date);
    // Tonight is home to first, so that the time a coach asks for is there; other drills before.
    for (std::size_t p = 1; p <= players; ++p) {
      const std::string who = "," + std::to_string(p) + ",";
      for (std::size_t r = 1; r <= runs; ++r) {
        const std::string trial = std::to_string(r);
        if (gates) {
          log += day + who + "home-first," + trial + ",G,gate,standing,signal,,,4.0,,,\n";
          log += day + who + "straight," + trial + ",G,gate,standing,beam 0.5 m,1.9,3.2,,,,\n";
          continue;
        }
        const bool circuit = date == 0 && r == 1;
        log += day + who + (circuit ? "circuit," : "home-first,") + trial + ",AK,stopwatch,standing,signal,,,4.0," +
               (circuit ? "7.5,11.0,14.5" : ",,") + "\n";
        if (r == 2 && p % 2 == 0) {
          log += day + who + "straight,1,RB,stopwatch," + (p % 4 == 0 ? "prone,signal" : "standing,self") +
                 ",2.1,3.5,,,,\n";
        }
      }
    }
  }
  return log;
}

// One evening: of each player runs of three kinds in turn, or straights through gates.
std::string one_evening(stats::RandomStream& random, bool gates) {
  std::string log =
      "# base-distance: 60 ft\ndate,player,course,trial,timer,device,start,10m,20m,30m,first,second,third,home\n";
  const std::size_t players = 12 + random.below(3);
  for (std::size_t p = 1; p <= players; ++p) {
    const std::size_t runs = 2 + random.below(5);
    const std::size_t turn = random.below(3);
    for (std::size_t r = 0; r < runs; ++r) {
      const std::string head = "2026-05-02," + std::to_string(p) + ",";
      const std::string trial = "," + std::to_string(r + 1) + ",";
      if (gates) {
        log += head + "straight" + trial + "G,gate,beam 0.5 m,1.9,3.2,4.6,,,,\n";
        continue;
      }
      const char* const rows[] = {"stopwatch,signal,,,,4.0,7.5,11.0,14.5\n", "stopwatch,self,2.1,3.6,5.1,,,,\n",
                                  "stopwatch,signal,,,,4.0,,,\n"};
      const char* const courses[] = {"circuit", "straight", "home-first"};
      const std::size_t kind = (turn + r) % 3;
      log += head + courses[kind] + trial + "AK," + rows[kind];
    }
  }
  return log;
}

std::string roster_text(stats::RandomStream& random) {
  std::string text = "player,sex,born\n";
  const std::size_t year = 2012 + random.below(6);
  for (int p = 1; p <= 14; ++p) {
    text += std::to_string(p) + (random.below(2) == 0 ? ",F," : ",M,") + std::to_string(year) + "-0" +
            std::to_string(1 + random.below(9)) + "-15\n";
  }
  return text;
}

double draw(stats::RandomStream& random, const inference::Normal& normal) {
  return normal.mean + normal.sd * random.normal();
}

}  // namespace

std::string short_name(const std::string& name) {
  return name.starts_with("loss.") ? "loss" : name.starts_with("session.") ? "session" : name;
}

const inference::Estimate* estimate_of(const jobs::PlayerProfile& profile, const std::string& name) {
  const auto of = [](const std::optional<inference::Estimate>& e) { return e ? &*e : nullptr; };
  const auto named = [](const std::vector<jobs::NamedEstimate>& list, std::string_view key) {
    const auto it = std::find_if(list.begin(), list.end(), [&](const auto& e) { return e.name == key; });
    return it == list.end() ? nullptr : &it->value;
  };
  if (name == "top_speed_mps") {
    return of(profile.top_speed_mps);
  }
  if (name == "time_constant_s") {
    return of(profile.time_constant_s);
  }
  if (name == "reaction_s") {
    return of(profile.reaction_s);
  }
  if (name == "home-first") {
    return named(profile.predicted_time_s, name);
  }
  if (name.starts_with("loss.")) {
    return named(profile.segment_loss_s, name.substr(5));
  }
  return named(profile.session_time_s, name.substr(8));
}

double Coverage::chi_square() const {
  constexpr double shares[] = {0.05, 0.2, 0.25, 0.25, 0.2, 0.05};
  double sum = 0.0;
  for (int k = 0; k < 6; ++k) {
    const double expected = shares[k] * count;
    sum += (parts[k] - expected) * (parts[k] - expected) / expected;
  }
  return sum;
}

DrawnSquad draw_squad(std::uint64_t seed, std::uint64_t index, const WrongPrior& wrong, Nights nights) {
  stats::RandomStream random(seed, index);
  DrawnSquad out;
  out.roster = runs::read_roster(roster_text(random), "roster.csv").roster;
  out.log = runs::read_run_log(nights == Nights::mixed ? layout(random) : one_evening(random, nights == Nights::gates),
                               "log.csv")
                .log;
  const timing::DeviceBook devices;
  const inference::SegmentNames segments(out.log);
  const inference::ModelFile defaults = inference::default_model();
  const basepath::LossTable table = basepath::LossTable::built_in();

  // As profile() does: each player's own data with the names of its terms.
  std::vector<inference::SquadPlayer> players;
  std::vector<inference::Selection> selections;
  for (runs::NameId id = 0; id < out.log.names.size(); ++id) {
    std::vector<std::uint32_t> runs_of_player;
    for (std::uint32_t r = 0; r < out.log.runs.size(); ++r) {
      if (out.log.runs[r].player == id) {
        runs_of_player.push_back(r);
      }
    }
    if (runs_of_player.empty()) {
      continue;
    }
    const runs::Player* const player = out.roster.find(out.log.names[id]);
    inference::Selection selection = inference::select_runs(out.log, runs_of_player, std::nullopt, std::nullopt);
    const auto prior = inference::sprint_prior(runs::age_years(*player->born, *selection.last), player->sex);
    inference::SquadPlayer& added = players.emplace_back();
    added.id = id;
    added.assembled = inference::assemble(out.log, segments, selection.used, player, prior, devices, {}, defaults);
    added.loss_means = inference::expect_best_path(added.assembled, table, {});
    selections.push_back(std::move(selection));
  }
  const inference::SquadModel structure = inference::squad_structure(players, seed);

  const inference::SquadScalePriors priors = inference::scale_priors();
  const double effort_cv = std::exp(draw(random, priors.log_effort_cv));
  const double day_cv = std::exp(draw(random, priors.log_day_cv));
  const double reaction_sd_s = std::exp(draw(random, priors.log_reaction_sd));
  const double press = std::exp(draw(random, priors.log_press_factor));
  const double slope_s = wrong.loss_slope_s.value_or(draw(random, priors.loss_slope_s));
  std::vector<double> shared;
  for (const inference::SharedQuantity& quantity : structure.shared) {
    const bool speed = quantity.kind == inference::SharedQuantity::Kind::top_speed_offset;
    shared.push_back(speed && wrong.log_top_speed_offset != 0.0 ? 0.0 : draw(random, quantity.prior));
  }
  for (std::size_t p = 0; p < players.size(); ++p) {
    const inference::Assembled& assembled = players[p].assembled;
    const inference::SquadMember member = inference::member_of(structure, assembled, std::nullopt);
    const auto value = [&](const inference::Normal& own, std::uint32_t link) {
      return draw(random, own) + (link == inference::not_shared ? 0.0 : shared[link]);
    };
    const inference::PlayerData& own = member.data;
    const double z = random.normal();
    const double z_tau = inference::log_time_constant_z(own, z, random.normal());
    const motion::Sprint sprint{std::exp(own.log_top_speed.mean + own.log_top_speed.sd * z +
                                         shared[member.shared_log_top_speed] + wrong.log_top_speed_offset),
                                std::exp(own.log_time_constant.mean + own.log_time_constant.sd * z_tau +
                                         member.time_constant_on_top_speed * shared[member.shared_log_top_speed] +
                                         member.time_constant_on_its_own * shared[member.shared_log_time_constant])};
    std::vector<double> terms;
    for (std::size_t k = 0; k < assembled.terms.size(); ++k) {
      inference::Normal rest = own.terms[k];
      double of_speed = 0.0;
      if (assembled.terms[k].kind == TermKind::loss) {
        of_speed = inference::slope_of_loss(member, static_cast<std::uint32_t>(k), slope_s) * own.log_top_speed.sd;
        rest.sd = std::sqrt(rest.sd * rest.sd - of_speed * of_speed);
      }
      terms.push_back(of_speed * z + value(rest, member.shared_of_term[k]));
      if (assembled.terms[k].kind == TermKind::reaction) {
        terms.back() += wrong.reaction_offset_s;
      }
    }
    if (const auto moving = players[p].loss_means.callback()) {
      moving(sprint, terms);
    }
    std::map<std::string, double>& truth = out.truth[out.log.names[players[p].id]];
    truth["top_speed_mps"] = sprint.top_speed_mps;
    truth["time_constant_s"] = sprint.time_constant_s;
    if (assembled.base_distance_m) {
      truth["home-first"] = motion::time_to_distance(sprint, *assembled.base_distance_m);
    }
    for (std::size_t k = 0; k < terms.size(); ++k) {
      if (assembled.terms[k].kind == TermKind::reaction) {
        truth["reaction_s"] = terms[k];
      } else if (assembled.terms[k].kind == TermKind::loss) {
        truth["loss." + assembled.terms[k].name] = terms[k];
      }
    }
    std::map<std::uint32_t, double> form;
    std::size_t reading_at = 0;
    for (const std::uint32_t index_of_run : selections[p].used) {
      const runs::Run& run = out.log.runs[index_of_run];
      const auto day = static_cast<std::uint32_t>(run.date.time_since_epoch().count());
      if (!form.contains(day)) {
        form[day] = day_cv * random.normal();
      }
      const double effort = 1.0 + form[day] + effort_cv * random.normal();
      const double reacted = reaction_sd_s * random.normal();
      for (std::uint32_t r = 0; r < run.reading_count; ++r) {
        const inference::ReadingData& reading = assembled.data.readings[reading_at];
        const double scale = member.hand[reading_at] != 0 ? press : 1.0;
        ++reading_at;
        const double start = scale * reading.start_sd_s * random.normal();
        for (std::uint32_t j = 0; j < reading.mark_count; ++j) {
          const inference::MarkData& mark = assembled.data.marks[reading.first_mark + j];
          const double moving = reading.beam_m > 0.0 ? motion::time_from_beam(sprint, reading.beam_m, mark.distance_m)
                                                     : motion::time_to_distance(sprint, mark.distance_m);
          double sum = 0.0;
          for (std::size_t k = 0; k < terms.size(); ++k) {
            sum += ((mark.terms >> k) & 1U) != 0 ? terms[k] : 0.0;
          }
          runs::Split& split = out.log.splits[out.log.readings[run.first_reading + r].first_split + j];
          split.time_s =
              effort * moving + sum + (reading.signal ? reacted : 0.0) + start + scale * mark.sd_s * random.normal();
          const std::string key = out.log.name(split.mark) + "@" + out.log.courses[run.course].name;
          if (run.date == *selections[p].last) {
            truth["session." + key] = (1.0 + form[day]) * moving + sum;
            if (key == "first@home-first") {
              out.first_times_s[out.log.names[players[p].id]].push_back(split.time_s);
            }
          }
        }
      }
    }
  }
  return out;
}

namespace {

// The profile with the truth in place of each estimate that bears a mark: its marks are the true ones, however little.
jobs::ProfileResult told_the_truth(const DrawnSquad& squad, jobs::ProfileResult result) {
  for (jobs::PlayerProfile& player : result.players) {
    const std::map<std::string, double>& truth = squad.truth.at(player.player);
    const auto is = [&](inference::Estimate& e, const std::string& name) {
      e = {truth.at(name), 0.0, truth.at(name), truth.at(name), truth.at(name), 1.0};
    };
    if (player.reaction_s) {
      is(*player.reaction_s, "reaction_s");
    }
    if (player.time_constant_s && player.top_speed_mps) {
      is(*player.time_constant_s, "time_constant_s");
      is(*player.top_speed_mps, "top_speed_mps");
    }
    for (jobs::NamedEstimate& loss : player.segment_loss_s) {
      const double off = truth.at("loss." + loss.name) - loss.value.mean;
      for (jobs::NamedEstimate& beyond : player.loss_to_best_path_by_segment_s) {
        if (beyond.name == loss.name) {  // the best path of the estimated sprint: its error is a hundredth or two
          const double value = beyond.value.mean + off;
          beyond.value = {value, 0.0, value, value, value, 1.0};
        }
      }
      is(loss.value, "loss." + loss.name);
    }
  }
  jobs::mark_squad(result);
  return result;
}

// A sure mark is right where the true seconds lie beyond its limit, on its side.
void judge_marks(const DrawnSquad& squad, const jobs::ProfileResult& result, Calibration& part) {
  const jobs::ProfileResult truth = told_the_truth(squad, result);
  for (std::size_t p = 0; p < result.players.size(); ++p) {
    for (std::size_t k = 0; k < jobs::change_quantity; ++k) {
      const jobs::Marked& said = result.players[p].marks[k];
      const jobs::Marked& known = truth.players[p].marks[k];
      if (jobs::marked_quantities[k].what == "get-up" || (said.mark != jobs::Mark::work && said.mark != jobs::Mark::good)) {
        continue;  // no truth of getting up is kept
      }
      ++part.sure_marks;
      const double limit = jobs::marked_quantities[k].surely_s;
      const bool right = known.cost_s && (said.mark == jobs::Mark::work ? *known.cost_s > limit : *known.cost_s < -limit);
      part.sure_marks_right += right ? 1 : 0;
    }
  }
}

}  // namespace

Calibration calibrate(int squads, std::uint64_t seed, const WrongPrior& wrong, unsigned threads) {
  std::vector<Calibration> parts(static_cast<std::size_t>(squads));
  stats::for_each_index(parts.size(), threads, [&](std::size_t index) {
    const DrawnSquad squad = draw_squad(seed, index, wrong);
    jobs::ProfileOptions options;
    options.squad = true;
    std::map<double, jobs::ProfileResult> at;
    for (const double level : {0.9, 0.5}) {
      options.level = level;
      at.emplace(level,
                 jobs::profile(squad.log, squad.roster, timing::DeviceBook(), norms::Catalogue::builtin(), options));
    }
    Calibration& part = parts[index];
    const jobs::ProfileResult& ninety = at.at(0.9);
    judge_marks(squad, ninety, part);
    for (std::size_t p = 0; p < ninety.players.size(); ++p) {
      const jobs::PlayerProfile& profile = ninety.players[p];
      if (profile.status == inference::PosteriorStatus::not_certified) {
        ++part.not_certified;
        continue;
      }
      for (const auto& [name, truth] : squad.truth.at(profile.player)) {
        const auto get = [&](double level) { return estimate_of(at.at(level).players[p], name); };
        const inference::Estimate* const e = get(0.9);
        if (e == nullptr) {
          continue;
        }
        const double edges[] = {e->lo, get(0.5)->lo, e->median, get(0.5)->hi, e->hi};
        const auto place = static_cast<std::size_t>(
            std::count_if(std::begin(edges), std::end(edges), [&](double x) { return truth > x; }));
        const bool covered = truth >= e->lo && truth <= e->hi;
        const auto add = [&](Coverage& coverage) {
          ++coverage.count;
          coverage.covered += covered ? 1 : 0;
          ++coverage.parts[place];
        };
        add(part.quantities[short_name(name)]);
        if (name == "session.first@home-first") {
          const auto times = squad.first_times_s.find(profile.player);
          if (times != squad.first_times_s.end() && times->second.size() == 3) {
            part.model_width_s += e->hi - e->lo;
            part.own_width_s += 2.0 * stats::one_sample_t(times->second, 0.9).value().interval.half_width();
            ++part.three_runs;
            add(part.three_run_coverage);
          }
        }
      }
    }
  });
  Calibration sum;
  const auto add = [](Coverage& to, const Coverage& from) {
    to.count += from.count;
    to.covered += from.covered;
    for (int i = 0; i < 6; ++i) {
      to.parts[i] += from.parts[i];
    }
  };
  for (const Calibration& part : parts) {
    for (const auto& [name, coverage] : part.quantities) {
      add(sum.quantities[name], coverage);
    }
    add(sum.three_run_coverage, part.three_run_coverage);
    sum.model_width_s += part.model_width_s;
    sum.own_width_s += part.own_width_s;
    sum.three_runs += part.three_runs;
    sum.not_certified += part.not_certified;
    sum.sure_marks += part.sure_marks;
    sum.sure_marks_right += part.sure_marks_right;
  }
  return sum;
}

}  // namespace bagsplit::test
