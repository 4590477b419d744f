#pragma once

#include <nlohmann/json.hpp>
#include <regex>
#include <string>
#include <vector>

namespace bagsplit::test {

/// Holds a value against a JSON Schema (draft 2020-12), for the words the schemas in data/schemas use. A word this does
/// not know is itself reported, so that a schema cannot ask for more than is looked at. Source: JSON Schema, draft
/// 2020-12 (Wright et al. 2022), core and validation.
class SchemaCheck {
 public:
  explicit SchemaCheck(const nlohmann::json& schema) : root_(schema) {}

  /// What is wrong, one line each; empty when the value conforms.
  std::vector<std::string> operator()(const nlohmann::json& value) {
    found_.clear();
    check(value, root_, "");
    return found_;
  }

 private:
  using Json = nlohmann::json;

  static bool is_of(const Json& value, const std::string& type) {
    return (type == "null" && value.is_null()) || (type == "boolean" && value.is_boolean()) ||
           (type == "object" && value.is_object()) || (type == "array" && value.is_array()) ||
           (type == "string" && value.is_string()) || (type == "number" && value.is_number()) ||
           (type == "integer" && value.is_number_integer());
  }

  void say(const std::string& where, const std::string& what) {
    found_.push_back((where.empty() ? "/" : where) + ": " + what);
  }

  std::size_t faults(const Json& value, const Json& schema) {
    SchemaCheck inner(root_);
    inner.check(value, schema, "");
    return inner.found_.size();
  }

  void check(const Json& value, const Json& schema, const std::string& where) {
    for (const auto& [word, rule] : schema.items()) {
      if (word == "$schema" || word == "$comment" || word == "$defs" || word == "$id" || word == "title" ||
          word == "description" || word == "default" || word == "examples" || word == "source") {
        continue;
      }
      if (word == "$ref") {
        check(value, root_.at(Json::json_pointer(rule.get<std::string>().substr(1))), where);
      } else if (word == "anyOf") {
        bool any = false;
        for (const Json& one : rule) {
          any = any || faults(value, one) == 0;
        }
        if (!any) {
          say(where, "none of anyOf holds for " + value.dump());
        }
      } else if (word == "type") {
        bool any = rule.is_string() && is_of(value, rule.get<std::string>());
        for (const Json& one : rule.is_array() ? rule : Json::array()) {
          any = any || is_of(value, one.get<std::string>());
        }
        if (!any) {
          say(where, "is " + value.dump().substr(0, 40) + ", not of type " + rule.dump());
        }
      } else if (word == "enum") {
        if (std::find(rule.begin(), rule.end(), value) == rule.end()) {
          say(where, value.dump() + " is not one of " + rule.dump());
        }
      } else if (word == "const") {
        if (value != rule) {
          say(where, value.dump() + " is not " + rule.dump());
        }
      } else if (word == "required" && value.is_object()) {
        for (const Json& name : rule) {
          if (!value.contains(name.get<std::string>())) {
            say(where, "lacks " + name.dump());
          }
        }
      } else if (word == "properties" && value.is_object()) {
        for (const auto& [name, inner] : rule.items()) {
          if (value.contains(name)) {
            check(value.at(name), inner, where + "/" + name);
          }
        }
      } else if (word == "additionalProperties" && value.is_object()) {
        for (const auto& [name, member] : value.items()) {
          if (schema.contains("properties") && schema.at("properties").contains(name)) {
            continue;
          }
          if (rule == false) {
            say(where, "has the unknown name " + name);
          } else if (rule.is_object()) {
            check(member, rule, where + "/" + name);
          }
        }
      } else if (word == "propertyNames" && value.is_object()) {
        for (const auto& [name, member] : value.items()) {
          check(Json(name), rule, where + "/" + name);
        }
      } else if (word == "items" && value.is_array()) {
        for (std::size_t i = 0; i < value.size(); ++i) {
          check(value.at(i), rule, where + "/" + std::to_string(i));
        }
      } else if (word == "pattern" && value.is_string()) {
        if (!std::regex_search(value.get<std::string>(), std::regex(rule.get<std::string>()))) {
          say(where, value.dump() + " does not match " + rule.dump());
        }
      } else if (word == "minLength" && value.is_string()) {
        if (value.get<std::string>().size() < rule.get<std::size_t>()) {
          say(where, value.dump() + " is shorter than " + rule.dump());
        }
      } else if ((word == "minimum" || word == "maximum" || word == "exclusiveMinimum" || word == "exclusiveMaximum") &&
                 value.is_number()) {
        const double number = value.get<double>();
        const double bound = rule.get<double>();
        const bool holds = word == "minimum"            ? number >= bound
                           : word == "maximum"          ? number <= bound
                           : word == "exclusiveMinimum" ? number > bound
                                                        : number < bound;
        if (!holds) {
          say(where, value.dump() + " breaks " + word + " " + rule.dump());
        }
      } else if (word != "required" && word != "properties" && word != "additionalProperties" &&
                 word != "propertyNames" && word != "items" && word != "pattern" && word != "minLength" &&
                 word != "minimum" && word != "maximum" && word != "exclusiveMinimum" && word != "exclusiveMaximum") {
        say(where, "the schema has the word '" + word + "', which this check does not know");
      }
    }
  }

  const nlohmann::json& root_;
  std::vector<std::string> found_;
};

}  // namespace bagsplit::test
