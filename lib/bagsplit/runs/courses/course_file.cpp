#include "bagsplit/runs/courses/course_file.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "bagsplit/builtin/builtin.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/runs/words.hpp"
#include "bagsplit/text/json_text.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::runs {

namespace {

constexpr std::size_t longest_name = 60;
constexpr std::size_t most_courses = 1'000;
constexpr double longest_m = 10'000.0;
constexpr std::string_view schema = "bagsplit.courses/1";

bool is_name(std::string_view name) {
  return !name.empty() && name.size() <= longest_name && name.front() != '-' && name.back() != '-' &&
         std::all_of(name.begin(), name.end(),
                     [](char c) { return (c >= 'a' && c <= 'z') || text::is_digit(c) || c == '-'; });
}

class CourseFile {
 public:
  CourseFile(std::string_view text, std::string_view path, const OwnCourses& known)
      : json_(text, path), known_(known) {}

  OwnCourses read(text::Problems& problems) {
    if (const auto root = json_.parse()) {
      read_file(*root);
    }
    json_.deliver(problems);
    return {std::move(courses_), std::move(drills_)};
  }

 private:
  void report(std::string_view code, text::JsonPlace place, std::string message, std::string expected,
              std::string hint = {}) {
    json_.report(text::Severity::error, code, place, std::move(message), std::move(expected), std::move(hint));
    bad_ = true;
  }

  void read_file(const text::JsonValue& root) {
    text::JsonObject file(json_, root);
    file.word("schema", {schema}, text::JsonNeed::required);
    file.allow("description");
    const bool has_drills = file.value().find("drills") != nullptr;
    const auto* items = file.array("courses", has_drills ? text::JsonNeed::optional : text::JsonNeed::required);
    if (items != nullptr && items->size() > most_courses) {
      report("bad-course", file.value().find("courses")->place,
             "there are " + std::to_string(items->size()) + " courses", "at most " + std::to_string(most_courses));
    } else if (items != nullptr) {
      for (std::size_t k = 0; k < items->size(); ++k) {
        read_course(text::JsonObject(json_, (*items)[k], "/courses/" + std::to_string(k)));
      }
    }
    if (const auto* drills = file.array("drills")) {
      for (std::size_t k = 0; k < std::min(drills->size(), most_courses); ++k) {
        read_drill(text::JsonObject(json_, (*drills)[k], "/drills/" + std::to_string(k)));
      }
    }
    file.refuse_other_names();
  }

  static std::vector<std::string_view> views(std::span<const std::string_view> words) {
    return {words.begin(), words.end()};
  }

  void read_drill(text::JsonObject item) {
    if (!item.is_object()) {
      return;
    }
    bad_ = false;
    Drill drill;
    const auto name = item.text("name", text::JsonNeed::required);
    if (name && !is_name(*name)) {
      report("bad-course", item.value().find("name")->place, "'" + text::clipped(*name) + "' is no name for a drill",
             "small letters, digits and hyphens, at most " + std::to_string(longest_name));
    } else if (name && (find_drill(known_.drills, *name) != nullptr || find_drill(drills_, *name) != nullptr)) {
      report("repeated-course", item.value().find("name")->place, "there is a drill '" + *name + "' already",
             "a name of its own");
    }
    drill.name = name.value_or("");
    drill.about = item.text("description").value_or("");
    const auto course = item.text("course", text::JsonNeed::required);
    if (course && find_course(known_.courses, *course) == nullptr && find_course(courses_, *course) == nullptr) {
      report("unknown-word", item.value().find("course")->place, "there is no course '" + text::clipped(*course) + "'",
             "a built-in course, or one of this file");
    }
    drill.course = course.value_or("");
    if (const auto* marks = item.array("marks")) {
      for (const text::JsonValue& value : *marks) {
        std::string mark = value.kind == text::JsonKind::string ? text::lower(value.text) : std::string();
        std::erase(mark, ' ');
        if (!bag_of_name(mark) && mark != "move" && !parse_length_m(mark)) {
          report("bad-length", value.place, "this is no mark", "a bag, move, or a distance in quotes: \"10yd\"");
        }
        drill.marks.push_back(std::move(mark));
      }
    }
    drill.posture = static_cast<Posture>(item.word("posture", views(posture_words)).value_or(0));
    drill.start = item.word("start", {"signal", "self"}).value_or(0) == 0 ? StartKind::signal : StartKind::self;
    if (const auto signal = item.word("signal", views(signal_words))) {
      drill.signal = static_cast<Signal>(*signal + 1);
    }
    drill.runs_each =
        static_cast<unsigned>(item.number("runs_each", {1.0, 12.0, "a number from 1 to 12"}).value_or(1.0));
    drill.relay = item.boolean("relay").value_or(false);
    item.refuse_other_names();
    if (!bad_ && name) {
      drills_.push_back(std::move(drill));
    }
  }

  void read_course(text::JsonObject item) {
    if (!item.is_object()) {
      return;
    }
    bad_ = false;
    const auto name = item.text("name", text::JsonNeed::required);
    if (name) {
      check_name(*name, item.value().find("name")->place);
    }
    item.allow("description");
    const auto* bags = item.array("bags");
    const auto length = read_length(item);
    const auto finish = item.word("finish", {"through", "stop"});
    const auto reverse = item.boolean("reverse");
    const auto touch = item.word("touch", {"point", "edge"});
    const auto width = item.number("bag_width_m", {0.1, 1.0, "a width from 0.1 to 1 m"});
    const auto* marks = item.array("marks");
    item.refuse_other_names();
    Course course;
    if (bags != nullptr) {
      if (length) {
        report("bad-course", item.value().find("length")->place, "a course around the bags has no length of its own",
               "'bags' or 'length', not both", "its length follows from the base distance of the log");
      }
      course = read_base_path(*bags, item, reverse.value_or(false), finish, touch);
      course.bag_width_m = width.value_or(default_bag_width_m);
    } else {
      refuse_without_bags(item);
      course.finish = finish == 1U ? Finish::stop : Finish::through;
      course.length_m = length;
    }
    course.name = name.value_or("");
    if (marks != nullptr) {
      read_marks(*marks, course);
    }
    if (!bad_ && name) {
      courses_.push_back(std::move(course));
    }
  }

  void check_name(const std::string& name, text::JsonPlace place) {
    if (!is_name(name)) {
      report("bad-course", place, "'" + text::clipped(name) + "' is no name for a course",
             "small letters, digits and hyphens, at most " + std::to_string(longest_name));
    } else if (find_course(known_.courses, name) != nullptr || find_course(courses_, name) != nullptr) {
      report("repeated-course", place, "there is a course '" + name + "' already", "a name of its own");
    }
  }

  std::optional<double> read_length(text::JsonObject& item) {
    const auto text = item.text("length");
    if (!text) {
      return std::nullopt;
    }
    const auto length = parse_length_m(*text);
    if (!length || *length <= 0.0 || *length > longest_m) {
      report("bad-length", item.value().find("length")->place, "'length' is not a length",
             "a number with ft, yd or m, such as 30 yd");
      return std::nullopt;
    }
    return length;
  }

  void refuse_without_bags(const text::JsonObject& item) {
    for (const std::string_view name : {"reverse", "touch", "bag_width_m"}) {
      if (const text::JsonValue* value = item.value().find(name)) {
        report("bad-course", value->key_place, "'" + std::string(name) + "' says nothing about a straight course",
               "'bags' beside it, or nothing");
      }
    }
  }

  Course read_base_path(const std::vector<text::JsonValue>& items, const text::JsonObject& item, bool reverse,
                        std::optional<std::size_t> finish, std::optional<std::size_t> touch) {
    std::vector<Bag> bags;
    for (const text::JsonValue& value : items) {
      const auto bag = value.kind == text::JsonKind::string ? bag_of_name(value.text) : std::nullopt;
      if (!bag) {
        report("unknown-word", value.place, "this is not a bag", "home, first, second or third");
        return {};
      }
      bags.push_back(*bag);
    }
    const bool ends_through = !bags.empty() && (bags.back() == Bag::home || bags.back() == Bag::first);
    const Finish end = finish         ? (*finish == 0 ? Finish::through : Finish::stop)
                       : ends_through ? Finish::through
                                      : Finish::stop;
    // base_path() knows the rules; what it refuses is the user's path here.
    try {
      return base_path("", bags, reverse, end, touch == 1U ? Touch::edge : Touch::point);
    } catch (const std::invalid_argument&) {
      report("bad-course", item.value().find("bags")->place, "these bags do not make a path around the bases",
             "two to five bags, each next to the one before, none reached twice",
             reverse ? "with \"reverse\": true the order is home, third, second, first, home"
                     : "the order is home, first, second, third, home; the other way round needs \"reverse\": true");
      return {};
    }
  }

  void read_marks(const std::vector<text::JsonValue>& items, Course& course) {
    std::vector<CourseMark> marks;
    for (const text::JsonValue& value : items) {
      std::string name = value.kind == text::JsonKind::string ? text::lower(value.text) : std::string();
      std::erase(name, ' ');
      const auto at_m = parse_length_m(name);
      if (!at_m || *at_m <= 0.0 || *at_m > longest_m) {
        report("bad-length", value.place, "this is not a distance from the start",
               "a number with ft, yd or m in quotes: \"10yd\"",
               bag_of_name(name) ? "the bags of the course are its marks without being named" : "");
        continue;
      }
      if (course.length_m && *at_m > *course.length_m * (1.0 + 1e-9)) {
        report("bad-course", value.place, "a mark beyond the end of the course", "at most the length of the course");
      }
      if (std::any_of(marks.begin(), marks.end(),
                      [&](const CourseMark& m) { return std::fabs(m.distance_m - *at_m) < 1e-9; })) {
        report("bad-course", value.place, "a mark stands twice", "each mark once");
      }
      marks.push_back({name, 0.0, *at_m, false, 0.0});
    }
    std::stable_sort(marks.begin(), marks.end(),
                     [](const CourseMark& a, const CourseMark& b) { return a.distance_m < b.distance_m; });
    course.marks.insert(course.marks.end(), marks.begin(), marks.end());
  }

  text::JsonText json_;
  const OwnCourses known_;
  std::vector<Course> courses_;
  std::vector<Drill> drills_;
  bool bad_ = false;
};

}  // namespace

std::vector<Course> read_courses(std::string_view text, std::string_view path, const std::vector<Course>& known,
                                 text::Problems& problems) {
  return CourseFile(text, path, {known, builtin_drills()}).read(problems).courses;
}

OwnCourses read_course_file(std::string_view text, std::string_view path, const OwnCourses& known,
                            text::Problems& problems) {
  return CourseFile(text, path, known).read(problems);
}

const std::vector<Drill>& builtin_drills() {
  static const std::vector<Drill> drills = [] {
    constexpr std::string_view path = "courses/drills.json";
    text::Problems problems;
    std::vector<Drill> read =
        CourseFile(builtin::text(path).value(), path, {builtin_courses(), {}}).read(problems).drills;
    if (!problems.empty()) {
      throw std::logic_error("builtin_drills: " + problems.front().message);
    }
    return read;
  }();
  return drills;
}

const Drill* find_drill(const std::vector<Drill>& drills, std::string_view name) {
  const auto at = std::find_if(drills.begin(), drills.end(),
                               [&](const Drill& drill) { return text::equal_ignoring_case(drill.name, name); });
  return at == drills.end() ? nullptr : &*at;
}

}  // namespace bagsplit::runs
