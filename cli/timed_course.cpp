#include "timed_course.hpp"

#include <algorithm>

#include "bagsplit/runs/courses/drill.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/runs/words.hpp"
#include "bagsplit/text/text.hpp"
#include "declare.hpp"
#include "id_list.hpp"

namespace bagsplit::cli {

std::optional<TimedCourse> timed_course(const std::vector<runs::Course>& own, const std::string& name,
                                        const std::string& marks, std::string& wrong) {
  std::vector<runs::Course> known = runs::builtin_courses();
  known.insert(known.end(), own.begin(), own.end());
  const runs::Course* course = runs::find_course(known, name);
  if (course == nullptr) {
    std::vector<std::string_view> names;
    for (const runs::Course& one : known) {
      names.push_back(one.name);
    }
    const auto near = text::nearest(name, names);
    wrong = "no course '" + name + "'" + (near ? ". Did you mean '" + std::string(*near) + "'?" : "");
    return std::nullopt;
  }
  TimedCourse out{*course, read_ids(marks)};
  std::vector<std::string> bags;
  for (const runs::CourseMark& mark : course->marks) {
    bags.push_back(mark.name);
    if (marks.empty()) {
      out.marks.push_back(mark.name);
    }
  }
  for (std::size_t k = 0; k < out.marks.size() && !marks.empty(); ++k) {
    const std::string& mark = out.marks[k];
    const auto is_same = [&](const std::string& other) { return text::equal_ignoring_case(other, mark); };
    if (!text::equal_ignoring_case(mark, "move") && !runs::parse_length_m(mark) &&
        std::none_of(bags.begin(), bags.end(), is_same)) {
      bags.insert(bags.end(), {"move", "a distance such as 10yd"});
      wrong = "'" + mark + "' is no mark of " + course->name + ": " +
              text::list_of(std::vector<std::string_view>(bags.begin(), bags.end()));
      return std::nullopt;
    }
    if (std::any_of(out.marks.begin(), out.marks.begin() + static_cast<std::ptrdiff_t>(k), is_same)) {
      wrong = "the mark '" + mark + "' is named twice";
      return std::nullopt;
    }
  }
  if (out.marks.empty()) {
    wrong = "the course " + course->name + " has no marks of its own: name them with --marks 10yd,30yd";
    return std::nullopt;
  }
  return out;
}

void declare_drill(Options& app, std::string& drill) {
  std::vector<std::string_view> names;
  for (const runs::Drill& known : runs::builtin_drills()) {
    names.push_back(known.name);
  }
  declare_text(app, "--drill",
               {purpose::choice, "NAME",
                "A drill by name, in place of course, marks, posture and signal: " + text::list_of(names) +
                    ", or one of your own by --courses",
                "no drill"},
               [&drill](const std::string& typed) { drill = typed; });
}

std::optional<runs::Drill> fill_from_drill(const runs::OwnCourses& own, const std::string& name, DrillFields fields,
                                           std::string& wrong) {
  if (name.empty()) {
    return std::nullopt;
  }
  std::vector<runs::Drill> known = runs::builtin_drills();
  known.insert(known.end(), own.drills.begin(), own.drills.end());
  const runs::Drill* drill = runs::find_drill(known, name);
  if (drill == nullptr) {
    std::vector<std::string_view> names;
    for (const runs::Drill& one : known) {
      names.push_back(one.name);
    }
    const auto near = text::nearest(name, names);
    wrong = "no drill '" + name + "'" +
            (near ? ". Did you mean '" + std::string(*near) + "'?" : "; there are " + text::list_of(names));
    return std::nullopt;
  }
  if (!fields.course.empty() && !text::equal_ignoring_case(fields.course, drill->course)) {
    wrong = "the drill " + drill->name + " is run over " + drill->course + ": leave out --course";
    return std::nullopt;
  }
  fields.course = drill->course;
  std::string marks;
  for (const std::string& mark : drill->marks) {
    marks += (marks.empty() ? "" : ",") + mark;
  }
  const auto fill = [](std::string& field, std::string_view value) {
    field = field.empty() ? std::string(value) : field;
  };
  fill(fields.marks, marks);
  fill(fields.posture, drill->posture == runs::Posture::standing ? std::string_view{} : runs::word_of(drill->posture));
  fill(fields.start, runs::word_of(drill->start));
  fill(fields.signal, runs::word_of(drill->signal));
  return *drill;
}

void declare_signal(Options& app, std::string& signal) {
  declare_value<std::string>(app, "--signal", signal,
                             {purpose::choice, "WHO", "Who gives the signal: mine, other or gun", "not said"},
                             "mine, other or gun", [](const std::string& typed) -> std::optional<std::string> {
                               for (const std::string_view word : runs::signal_words) {
                                 if (text::equal_ignoring_case(word, typed)) {
                                   return std::string(word);
                                 }
                               }
                               return std::nullopt;
                             });
}

void declare_posture(Options& app, std::string& posture) {
  static const std::string words =
      text::list_of(std::vector<std::string_view>(runs::posture_words.begin(), runs::posture_words.end()));
  declare_value<std::string>(
      app, "--posture", posture,
      {purpose::choice, "KIND", "How runs begin: standing, split, crouch, prone or swing", "standing"}, words,
      [](const std::string& typed) -> std::optional<std::string> {
        for (const std::string_view word : runs::posture_words) {
          if (text::equal_ignoring_case(word, typed)) {
            return std::string(word);
          }
        }
        return std::nullopt;
      });
}

}  // namespace bagsplit::cli
