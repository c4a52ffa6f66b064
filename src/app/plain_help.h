// The command line's help and what is wrong with a command line, in the program's own words. Only main.cpp includes it,
// as it does the parser itself. Main thread.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <set>
#include <string>

#include <CLI/CLI.hpp>
#include <fmt/core.h>

namespace landfall {

// A number from `least` to `most`.
inline CLI::Validator between(double least, double most) {
    return {[least, most](const std::string& text) -> std::string {
                char* end = nullptr;
                const double number = std::strtod(text.c_str(), &end);
                const bool good = end != text.c_str() && *end == '\0' && number >= least && number <= most;
                return good ? "" : fmt::format("'{}' is not a number from {:g} to {:g}", text, least, most);
            },
            ""};
}

// What an option takes stands beside its name; its default, and what it does not go with, behind its description.
class PlainHelp : public CLI::Formatter {
public:
    PlainHelp() { column_width(nameWidth); }

    std::string make_option_opts(const CLI::Option* option) const override {
        return option->get_type_size() == 0 || option->get_positional() ? "" : " " + option->get_type_name();
    }
    std::string make_option_desc(const CLI::Option* option) const override {
        std::string text = option->get_description();
        if (!option->get_default_str().empty()) text += " (default: " + option->get_default_str() + ")";
        return wrapped(text + names("; with ", option->get_needs()) + names("; not with ", option->get_excludes()));
    }
    std::string make_usage(const CLI::App* app, std::string name) const override {
        std::string usage = "Usage: landfall" + (name.empty() || name == "landfall" ? "" : " " + name) + " [OPTIONS]";
        if (name.starts_with("landfall ")) usage = "Usage: " + name + " [OPTIONS]";
        for (const CLI::Option* each : app->get_options([](const CLI::Option* one) { return one->get_positional(); }))
            usage += " " + make_option_usage(each);
        const bool commands =
            !app->get_subcommands([](const CLI::App* one) { return !one->get_name().empty(); }).empty();
        return usage + (commands ? " [COMMAND]\n" : "\n");
    }
    // A group of options of which one is asked for.
    std::string make_expanded(const CLI::App* group) const override {
        std::string text = "\n" + group->get_group() + ":\n";
        for (const CLI::Option* each : group->get_options()) text += make_option(each, false);
        return text;
    }
    std::string make_footer(const CLI::App* app) const override { return app->get_footer() + "\n"; }

private:
    static constexpr std::size_t nameWidth = 26, textWidth = 74;

    static std::string names(const char* before, const std::set<CLI::Option*>& options) {
        std::string all;
        for (const CLI::Option* each : options) all += (all.empty() ? before : ", ") + each->get_name();
        return all;
    }
    // In lines that a terminal of a hundred columns holds.
    static std::string wrapped(std::string text) {
        for (std::size_t begin = 0; text.size() - begin > textWidth;) {
            const std::size_t space = text.rfind(' ', begin + textWidth);
            if (space == std::string::npos || space <= begin) break;
            text[space] = '\n';
            begin = space + 1;
        }
        return text;
    }
};

inline void replace(std::string& text, std::string_view what, std::string_view with) {
    if (const auto at = text.find(what); at != std::string::npos) text.replace(at, what.size(), with);
}

// The parser's errors name the option; the rest is said here.
inline std::string plainWords(const CLI::Error& error) {
    std::string text = error.what();
    switch (static_cast<CLI::ExitCodes>(error.get_exit_code())) {
        case CLI::ExitCodes::ExtrasError:
            return "'" + text.substr(std::min(text.size(), text.find(": ") + 2)) + "' is not understood";
        case CLI::ExitCodes::RequiredError:
            if (text.find("option from") != std::string::npos)
                return "say what was to be played: --move, --drill or --phrase, one of them";
            replace(text, " is required", " is missing");
            break;
        case CLI::ExitCodes::RequiresError: replace(text, " requires ", " goes only with "); break;
        case CLI::ExitCodes::ExcludesError: replace(text, " excludes ", " does not go with "); break;
        case CLI::ExitCodes::ArgumentMismatch: return text.substr(0, text.find(':')) + " needs one value";
        case CLI::ExitCodes::ConversionError:
            replace(text, "Could not convert: ", "");
            replace(text, " = ", ": this is not a whole number: ");
            break;
        default: break;
    }
    return text;
}

}  // namespace landfall
