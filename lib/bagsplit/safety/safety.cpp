#include "bagsplit/safety/safety.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <stdexcept>

namespace bagsplit::safety {

namespace {

constexpr std::string_view stopping =
    "Children of 6 to 10 told to stop from a run brake at 2.24 to 3.19 m/s2, the slowest taken; the 0.3 s before they "
    "brake is ours. No deceleration of children after a maximal sprint has been found at any age";
constexpr std::string_view space_behind =
    "Linear sprint test sheet for youth soccer (scribd.com/document/103675968): 40 m of ground for a 30 m sprint";
constexpr std::string_view rest_source =
    "Moran et al. (2017), Int J Sports Med 38(1):1-11, sprint training of boys of 10 to 18: 90 s or more";
constexpr std::string_view rest_older_source =
    "Linear sprint test sheet for youth soccer (scribd.com/document/103675968): 2 min between sprints; Ratel et al. "
    "(2002), Int J Sports Med 23:397-402, doi 10.1055/s-2002-33737: at 15 years power falls 15 % with 1 min of rest, "
    "at "
    "9.6 years not";
constexpr std::string_view warm_up_source =
    "Roessler et al. (2018), Sports Med 48(6):1493-1504, doi 10.1007/s40279-017-0834-8: 3895 children of 7 to 12, a "
    "programme of 15 to 20 min, hazard of injury 0.52 (0.32 to 0.86)";
constexpr std::string_view sun_source =
    "Sports Dimensions Guide, Little Athletics, Government of Western Australia: neither runners nor timekeepers face "
    "the sun at the finish";
constexpr std::string_view wall_source =
    "Facility note on school sport (sportsafeuk.com): walls and netting never at the end of a run";
constexpr std::string_view heat_source =
    "Am Acad Pediatrics (2011), Pediatrics 128(3):e741, doi 10.1542/peds.2011-1664; heat tables differ by region, so "
    "the local one is first";
constexpr std::string_view drink_source = "National soccer federation, guideline on heat, restated by a league";
constexpr std::string_view lightning_source =
    "Walsh et al. (2013), J Athl Train 48(2):258-270, doi 10.4085/1062-6050-48.2.25, restated on a clinic's page";
constexpr std::string_view prone_source =
    "National soccer federation, sprint test sheet: not on hot, wet or torn ground";
constexpr std::string_view bags_source =
    "Am Acad Orthopaedic Surgeons, position statement: bases that release cut sliding injuries by 98 % in one study";

constexpr double before_braking_s = 0.3;
constexpr double braking_mps2 = 2.24;
constexpr double least_run_out_m = 10.0;
constexpr double rest_s = 90.0;
constexpr double rest_older_s = 120.0;
constexpr double older_years = 12.0;

constexpr std::array all_figures = std::to_array<Figure>({
    {"time before braking begins", "s", before_braking_s, Grade::derived, stopping},
    {"braking", "m/s2", braking_mps2, Grade::derived, stopping},
    {"least run-out", "m", least_run_out_m, Grade::read, space_behind},
    {"least rest", "s", rest_s, Grade::abstract_only, rest_source},
    {"least rest of older players", "s", rest_older_s, Grade::read, rest_older_source},
    {"age of older players", "years", older_years, Grade::common_practice, ""},
    {"most sprints an evening", "", most_sprints_an_evening, Grade::common_practice, ""},
});

constexpr std::array all_cautions = std::to_array<Said>({
    {Caution::warm_up,
     "Warm up for 15 to 20 minutes first: easy running, balance, jumps, turns, then faster and faster runs.",
     Grade::abstract_only, warm_up_source},
    {Caution::run_out, " m, clear and level, behind every finish, with no wall, fence or net at its end.",
     Grade::secondary, wall_source},
    {Caution::rest, "Rest at least 90 s between two sprints, 2 minutes from 12 years.", Grade::abstract_only,
     rest_source},
    {Caution::most_sprints, "No more than 12 sprints each in an evening.", Grade::common_practice, ""},
    {Caution::heat, "In heat the local heat table comes first; shade for all who wait.", Grade::read, heat_source},
    {Caution::drink, "Drink every 20 minutes.", Grade::secondary, drink_source},
    {Caution::lightning, "Stop at thunder; go on 30 minutes after the last.", Grade::secondary, lightning_source},
    {Caution::sun, "Nobody runs or times facing the sun at the finish.", Grade::read, sun_source},
    {Caution::clear_path, "Timers, gates and waiting children stand out of the path and the run-out.",
     Grade::common_practice, ""},
    {Caution::hurt, "Nobody runs who is hurt or ill; stop when a child hurts or tires.", Grade::common_practice, ""},
    {Caution::prone, "Prone starts: on dry, even, soft ground only; move the course as the ground tears up.",
     Grade::read, prone_source},
    {Caution::bags, "Bags that release or lie flat; no sliding; a double first base where two can be at the bag.",
     Grade::secondary, bags_source},
    {Caution::one_runner, "One runner on the bases at a time.", Grade::common_practice, ""},
    {Caution::one_runner_a_team, "One runner of each team on the bases at a time.", Grade::common_practice, ""},
    {Caution::lanes,
     "A lane for each team, marked with cones; nobody waits in the path of one coming in, and the next runner stands "
     "clear until the touch.",
     Grade::common_practice, ""},
    {Caution::heats,
     "Heats: a lane of 2 m for each child, nobody but the judge near the finish, no diving at the line. Every heat is "
     "a sprint and counts among the evening's.",
     Grade::common_practice, ""},
    {Caution::meet_at_second,
     "Runners from both sides meet on second base: a lane of its own for each direction, marked with cones, a bag for "
     "each team or the touch on the open side of the bag, nobody waiting in the path of one coming in. The next runner "
     "stands clear until the touch.",
     Grade::common_practice, ""},
    {Caution::yardstick,
     "The path uses every limit all the time: a yardstick, not a target. Build the swing up at half speed; dry, even "
     "ground only.",
     Grade::common_practice, ""},
    {Caution::round_second,
     "Where two runners can meet at second, as in relays run from both sides, give each a lane to round in, or start "
     "them apart.",
     Grade::common_practice, ""},
    {Caution::touch,
     "Soft or release bases: touch the inside corner on top; a foot planted against the side moves the base, or turns "
     "the ankle.",
     Grade::common_practice, ""},
    {Caution::fielders,
     "No cutting in front of a fielder, and no fielder, coach or timer on the path or in its run-out when it is "
     "practised.",
     Grade::common_practice, ""},
    {Caution::league, "League rules and local codes come first.", Grade::common_practice, ""},
});

std::string joined(std::initializer_list<std::string> parts) {
  std::string out;
  for (const std::string& part : parts) {
    out += (out.empty() ? "" : " ") + part;
  }
  return out;
}

std::string whole(double value) {
  return std::to_string(static_cast<long>(value));
}

}  // namespace

std::span<const Figure> figures() {
  return all_figures;
}

double run_out_m(double speed_mps) {
  if (!std::isfinite(speed_mps) || speed_mps < 0.0) {
    throw std::domain_error("run_out_m: speed_mps must be finite and not below 0");
  }
  const double needed_m = before_braking_s * speed_mps + speed_mps * speed_mps / (2.0 * braking_mps2);
  const double tenths = std::round(10.0 * needed_m);  // no more is known, so 13.04 m is 13 m
  return std::max(least_run_out_m, std::ceil(tenths / 10.0));
}

double least_rest_s(std::optional<double> age_years) {
  return age_years && *age_years < older_years ? rest_s : rest_older_s;
}

std::span<const Said> cautions() {
  return all_cautions;
}

std::string words(Caution caution) {
  return std::string(all_cautions[static_cast<std::size_t>(caution)].words);
}

std::string run_out_words(double speed_mps) {
  return "Leave a run-out of at least " + whole(run_out_m(speed_mps)) + words(Caution::run_out);
}

std::string sprint_caution(double fastest_mps) {
  return joined({words(Caution::warm_up), run_out_words(fastest_mps), words(Caution::rest),
                 words(Caution::most_sprints), words(Caution::heat), words(Caution::drink), words(Caution::sun),
                 words(Caution::hurt), words(Caution::league)});
}

bool is_sprint_caution(std::string_view text) {
  return text.starts_with(all_cautions.front().words);
}

std::string practice_caution(bool lies_down, double fastest_mps) {
  return std::string(lies_down ? "Dry, even, soft ground" : "Dry, even ground") + ", nobody on the path, " +
         whole(run_out_m(fastest_mps)) + " m free behind the finish. Warm up first; stop when something hurts.";
}

std::string short_caution(double fastest_mps) {
  return "Warm up first; " + whole(run_out_m(fastest_mps)) +
         " m of run-out behind every finish at least, nobody facing the sun there; timers out of the path.";
}

std::vector<std::string> relay_cautions(bool meet_at_second, double fastest_mps) {
  return {words(meet_at_second ? Caution::meet_at_second : Caution::lanes), sprint_caution(fastest_mps)};
}

std::vector<std::string> path_cautions(double fastest_mps) {
  return {words(Caution::yardstick),
          words(Caution::round_second),
          words(Caution::touch),
          words(Caution::fielders),
          "How far a runner may leave the base path is for the league's book, which comes before anything said here.",
          sprint_caution(fastest_mps)};
}

std::vector<std::string> field_cautions(const Drill& drill, double fastest_mps) {
  std::vector<std::string> out{
      words(Caution::warm_up),
      words(Caution::hurt),
      run_out_words(fastest_mps),
      words(Caution::clear_path),
      joined({words(Caution::rest), words(Caution::most_sprints)}),
      joined({words(Caution::heat), words(Caution::drink), words(Caution::lightning)}),
      words(Caution::sun),
  };
  if (drill.base_path) {
    out.push_back(words(Caution::bags));
    out.push_back(words(drill.relay ? Caution::one_runner_a_team : Caution::one_runner));
  }
  if (drill.meet_at_second || drill.relay) {
    out.push_back(words(drill.meet_at_second ? Caution::meet_at_second : Caution::lanes));
  }
  if (drill.heats) {
    out.push_back(words(Caution::heats));
  }
  if (drill.lies_down) {
    out.push_back(words(Caution::prone));
  }
  out.push_back(words(Caution::league));
  return out;
}

}  // namespace bagsplit::safety
