// Checks a JSON value against the keywords of JSON Schema (draft 2020-12) that the shipped schemas use. A keyword it
// does not know is a failure, so that a schema cannot ask for something that nobody checks.
#pragma once

#include <algorithm>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

namespace bagsplit::test {

class SchemaCheck {
 public:
  explicit SchemaCheck(nlohmann::json schema) : schema_(std::move(schema)) {}

  /// What is wrong, one line each, with the JSON pointer of the place; empty when the value satisfies the schema.
  std::vector<std::string> faults(const nlohmann::json& value) const {
    std::vector<std::string> found;
    check(schema_, value, "", found);
    return found;
  }

 private:
  using Json = nlohmann::json;
  using Faults = std::vector<std::string>;

  static bool has_type(const Json& value, const std::string& type) {
    return (type == "object" && value.is_object()) || (type == "array" && value.is_array()) ||
           (type == "string" && value.is_string()) || (type == "number" && value.is_number()) ||
           (type == "boolean" && value.is_boolean()) || (type == "null" && value.is_null());
  }

  void check(const Json& schema, const Json& value, const std::string& at, Faults& found) const {
    if (schema.is_boolean()) {
      if (!schema.get<bool>()) {
        found.push_back(at + ": is not allowed here");
      }
      return;
    }
    for (const auto& [keyword, rule] : schema.items()) {
      check_keyword(keyword, rule, schema, value, at, found);
    }
  }

  void check_keyword(const std::string& keyword, const Json& rule, const Json& schema, const Json& value,
                     const std::string& at, Faults& found) const {
    if (keyword == "$schema" || keyword == "title" || keyword == "description" || keyword == "$defs") {
      return;
    }
    if (keyword == "$ref") {
      check(schema_.at(Json::json_pointer(rule.get<std::string>().substr(1))), value, at, found);
    } else if (keyword == "type") {
      bool any = false;
      for (const auto& type : rule.is_array() ? rule : Json::array({rule})) {
        any = any || has_type(value, type.get<std::string>());
      }
      if (!any) {
        found.push_back(at + ": is not of type " + rule.dump());
      }
    } else if (keyword == "const") {
      if (value != rule) {
        found.push_back(at + ": is not " + rule.dump());
      }
    } else if (keyword == "enum") {
      if (std::find(rule.begin(), rule.end(), value) == rule.end()) {
        found.push_back(at + ": is none of " + rule.dump());
      }
    } else if (keyword == "minimum" || keyword == "maximum") {
      if (value.is_number() && (keyword == "minimum" ? value < rule : value > rule)) {
        found.push_back(at + ": is beyond the " + keyword + " " + rule.dump());
      }
    } else if (keyword == "minLength") {
      if (value.is_string() && value.get<std::string>().size() < rule.get<std::size_t>()) {
        found.push_back(at + ": is too short");
      }
    } else if (keyword == "items") {
      for (std::size_t i = 0; value.is_array() && i < value.size(); ++i) {
        check(rule, value[i], at + "/" + std::to_string(i), found);
      }
    } else if (keyword == "required") {
      for (const auto& name : rule) {
        if (value.is_object() && !value.contains(name.get<std::string>())) {
          found.push_back(at + ": has no " + name.dump());
        }
      }
    } else if (keyword == "properties" || keyword == "propertyNames" || keyword == "additionalProperties") {
      if (value.is_object()) {
        check_members(keyword, rule, schema, value, at, found);
      }
    } else {
      found.push_back(at + ": the schema uses " + keyword + ", which this check does not know");
    }
  }

  void check_members(const std::string& keyword, const Json& rule, const Json& schema, const Json& value,
                     const std::string& at, Faults& found) const {
    for (const auto& [name, member] : value.items()) {
      const std::string here = at + "/" + name;
      const bool known = schema.contains("properties") && schema["properties"].contains(name);
      if (keyword == "properties" && known) {
        check(rule.at(name), member, here, found);
      }
      if (keyword == "propertyNames") {
        check(rule, name, here, found);
      }
      if (keyword == "additionalProperties" && !known) {
        check(rule, member, here, found);
      }
    }
  }

  Json schema_;
};

}  // namespace bagsplit::test
