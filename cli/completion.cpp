#include <array>

#include "command_line.hpp"
#include "manual.hpp"

namespace bagsplit::cli {

namespace {

constexpr std::array<std::string_view, 3> shells{"bash", "zsh", "fish"};

std::string joined(const std::vector<std::string>& words, std::string_view separator = " ") {
  std::string out;
  for (const std::string& word : words) {
    out += (out.empty() ? "" : std::string(separator)) + word;
  }
  return out;
}

// With each of `special` behind a backslash.
std::string escaped(std::string_view text, std::string_view special) {
  std::string out;
  for (const char c : text) {
    if (special.find(c) != std::string_view::npos) {
      out += '\\';
    }
    out += c;
  }
  return out;
}

// Inside single quotes of a POSIX shell.
std::string in_quotes(std::string_view text) {
  std::string out = "'";
  for (const char c : text) {
    out += c == '\'' ? "'\\''" : std::string(1, c);
  }
  return out + "'";
}

std::string bash_names(const Option& option) {
  return (option.short_name.empty() ? "" : "-" + option.short_name + "|") + "--" + option.long_name;
}

std::string bash(const std::vector<CommandDescription>& commands) {
  std::vector<std::string> verbs;
  std::string cases;
  for (const CommandDescription& command : commands) {
    verbs.push_back(command.name);
    std::vector<std::string> names;
    std::string values;
    for (const Option& option : command.options) {
      names.push_back("--" + option.long_name);
      if (!option.words.empty()) {
        values += "        " + bash_names(option) + ") COMPREPLY=($(compgen -W '" + joined(option.words) +
                  "' -- \"$cur\")); return ;;\n";
      } else if (has_listed_values(option.long_name)) {
        values += "        " + bash_names(option) + ") _bagsplit_values --" + option.long_name + "; return ;;\n";
      } else if (option.takes_file()) {
        values += "        " + bash_names(option) + ") COMPREPLY=($(compgen -f -- \"$cur\")); return ;;\n";
      } else if (!option.value.empty()) {
        values += "        " + bash_names(option) + ") return ;;\n";
      }
    }
    cases += "    " + command.name + ")\n      case $prev in\n" + values + "      esac\n      options='" +
             joined(names) + "' ;;\n";
  }
  verbs.insert(verbs.end(), {"help", "--help", "--version"});
  const std::string topics = joined(verbs) + " log roster";
  return "# bash completion of bagsplit; written by bagsplit --completion bash\n"
         "_bagsplit_values() {\n"
         "  local IFS=$'\\n' value\n"
         "  for value in $(\"${COMP_WORDS[0]}\" --values \"${COMP_WORDS[1]}\" \"$1\" \"${COMP_WORDS[@]:2:at-2}\" "
         "\"${COMP_WORDS[@]:COMP_CWORD+1}\" 2>/dev/null); do\n"
         "    [[ $value == \"$cur\"* ]] && COMPREPLY+=(\"${value#\"$before\"}\")\n"
         "  done\n"
         "}\n"
         "_bagsplit() {\n"
         "  local at=$COMP_CWORD cur=${COMP_WORDS[COMP_CWORD]} options=\n"
         "  # A colon or an @ parts words for bash: together again, and what stands before is not completed twice.\n"
         "  while ((at > 2)) && [[ $cur == [:@]* || ${COMP_WORDS[at-1]} == [:@] ]]; do cur=${COMP_WORDS[--at]}$cur; "
         "done\n"
         "  local prev=${COMP_WORDS[at-1]} before=${cur%\"${cur##*[:@]}\"}\n"
         "  COMPREPLY=()\n"
         "  if [[ $prev == help && $COMP_CWORD == 2 ]]; then\n"
         "    COMPREPLY=($(compgen -W '" +
         topics +
         "' -- \"$cur\"))\n"
         "    return\n"
         "  fi\n"
         "  if ((COMP_CWORD == 1)); then\n"
         "    COMPREPLY=($(compgen -W '" +
         joined(verbs) +
         "' -- \"$cur\"))\n"
         "    return\n"
         "  fi\n"
         "  case ${COMP_WORDS[1]} in\n" +
         cases +
         "  esac\n"
         "  if [[ $cur == -* ]]; then\n"
         "    COMPREPLY=($(compgen -W \"$options\" -- \"$cur\"))\n"
         "  else\n"
         "    COMPREPLY=($(compgen -f -- \"$cur\"))\n"
         "  fi\n"
         "}\n"
         "complete -o filenames -F _bagsplit bagsplit\n";
}

std::string zsh(const std::vector<CommandDescription>& commands) {
  std::string verbs;
  std::string cases;
  for (const CommandDescription& command : commands) {
    verbs += "    " + in_quotes(command.name + ":" + command.summary) + "\n";
    cases += "    " + command.name + ")\n      _arguments -s";
    for (const Option& option : command.options) {
      std::string spec =
          (option.repeats ? "*" : "") + ("--" + option.long_name) + "[" + escaped(option.what, "[]:\\") + "]";
      if (!option.value.empty()) {
        spec += ":" + escaped(option.value, ":\\") + ":" +
                (!option.words.empty()                 ? "(" + joined(option.words) + ")"
                 : has_listed_values(option.long_name) ? "_bagsplit_values --" + option.long_name
                 : option.takes_file()                 ? "_files"
                                                       : " ");
      }
      cases += " \\\n        " + in_quotes(spec);
    }
    cases += (command.files.empty() ? "" : " \\\n        '*:LOG:_files'") + std::string(" ;;\n");
  }
  return "#compdef bagsplit\n# zsh completion of bagsplit; written by bagsplit --completion zsh\n"
         "_bagsplit_values() {\n"
         "  compadd -- ${(f)\"$(bagsplit --values $verb $1 $words[2,-1] 2>/dev/null)\"}\n"
         "}\n"
         "_bagsplit() {\n"
         "  local -a verbs\n"
         "  verbs=(\n" +
         verbs +
         "  )\n"
         "  if ((CURRENT == 2)); then\n"
         "    _describe command verbs\n"
         "    return\n"
         "  fi\n"
         "  local verb=$words[2]\n"
         "  shift words\n"
         "  ((CURRENT--))\n"
         "  case $verb in\n" +
         cases +
         "  esac\n"
         "}\n"
         "_bagsplit \"$@\"\n";
}

std::string fish(const std::vector<CommandDescription>& commands) {
  const auto fish_quoted = [](std::string_view text) { return "'" + escaped(text, "\\'") + "'"; };
  std::string out = "# fish completion of bagsplit; written by bagsplit --completion fish\n";
  for (const CommandDescription& command : commands) {
    out += "complete -c bagsplit -n __fish_use_subcommand -f -a " + command.name + " -d " +
           fish_quoted(command.summary) + "\n";
    for (const Option& option : command.options) {
      out += "complete -c bagsplit -n '__fish_seen_subcommand_from " + command.name + "' -l " + option.long_name;
      out += option.short_name.empty() ? "" : " -s " + option.short_name;
      if (!option.words.empty()) {
        out += " -x -a " + fish_quoted(joined(option.words));
      } else if (has_listed_values(option.long_name)) {
        out += " -x -a " + fish_quoted("(bagsplit --values " + command.name + " --" + option.long_name +
                                       " (commandline -opc)[3..-1] 2>/dev/null)");
      } else if (option.takes_file()) {
        out += " -r -F";
      } else if (!option.value.empty()) {
        out += " -x";
      }
      out += " -d " + fish_quoted(option.what) + "\n";
    }
  }
  return out;
}

}  // namespace

std::optional<Shell> read_shell(std::string_view word) {
  for (std::size_t i = 0; i < shells.size(); ++i) {
    if (word == shells[i]) {
      return static_cast<Shell>(i);
    }
  }
  return std::nullopt;
}

std::string completion(Shell shell) {
  const std::vector<CommandDescription> commands = described_commands();
  switch (shell) {
    case Shell::bash:
      return bash(commands);
    case Shell::zsh:
      return zsh(commands);
    case Shell::fish:
      break;
  }
  return fish(commands);
}

}  // namespace bagsplit::cli
