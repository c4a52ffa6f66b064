// The settings' guitar: which one is in hand, how it is tuned and set up.
#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "src/app/screens/settings_screen.h"
#include "src/app/screens/steps.h"
#include "src/music/name_match.h"
#include "src/music/note_name.h"

namespace landfall {

namespace {

constexpr std::array tunings{"standard", "half step down", "whole step down", "drop D", "seven strings"};

// Sets of strings as they are sold (common practice).
const std::vector<std::vector<double>>& stringSets() {
    static const std::vector<std::vector<double>> sets{{.008, .010, .015, .021, .030, .038},
                                                       {.009, .011, .016, .024, .032, .042},
                                                       {.010, .013, .017, .026, .036, .046},
                                                       {.011, .014, .018, .028, .038, .049},
                                                       {.012, .016, .024, .032, .042, .053}};
    return sets;
}
// mm: 24, 24.75, 25, 25.5, 26.5 and 27 in; 7.25 to 20 in, or not told (common practice).
constexpr std::array scales{609.6, 628.65, 635.0, 647.7, 673.1, 685.8};
constexpr std::array radii{0.0, 184.0, 241.0, 254.0, 305.0, 356.0, 406.0, 508.0};
constexpr double usualAction = 1.6, lowestAction = 0.5, actionStep = 0.1;  // mm

std::string told(double mm) { return mm == 0.0 ? std::string("not told") : fmt::format("{:g} mm", mm); }

std::string gaugesOf(const Guitar& guitar) {
    if (guitar.gaugesInch.empty()) return "not told";
    return fmt::format("{:.3f} to {:.3f} in", guitar.gaugesInch.front(), guitar.gaugesInch.back());
}

}  // namespace

// The first of each name: guitarEntries gives them as they are now first.
void SettingsScreen::setGuitars(const std::vector<GuitarEntry>& entries) {
    guitars.clear();
    for (const GuitarEntry& entry : entries) {
        const auto known =
            std::ranges::find(guitars, entry.guitar.name, [](const auto& one) { return one.guitar.name; });
        if (known == guitars.end()) guitars.push_back({entry.guitar, entry.archived, entry.sittings > 0});
        else known->played = known->played || entry.sittings > 0;
    }
    refresh();
}

// A change that the guitar cannot be is said and not made.
Wish SettingsScreen::guitarChanged(const Guitar& wanted) {
    if (const auto checked = checkGuitar(wanted); !checked) {
        message = checked.error().message;
        return {};
    }
    now.guitar = wanted;
    return {.newSettings = true};
}

void SettingsScreen::ofGuitar(std::string label, std::string value, std::function<void(Guitar&, int)> change,
                              std::function<Wish()> choose) {
    add(
        std::move(label), std::move(value),
        [this, change = std::move(change)](int by) {
            Guitar wanted = now.guitar;
            change(wanted, by);
            return guitarChanged(wanted);
        },
        std::move(choose));
}

void SettingsScreen::addTuning() {
    const Guitar& guitar = now.guitar;
    ofGuitar("strings", fmt::format("{}", guitar.stringCount()), [](Guitar& wanted, int by) {
        // A string more is a fourth below the lowest; a string fewer leaves the lowest out.
        if (by < 0) wanted.openStrings.pop_back();
        else wanted.openStrings.push_back(MidiPitch(wanted.openStrings.back().value - 5.0));
    });
    ofGuitar(
        "tuning", tuningName(guitar.openStrings),
        [](Guitar& wanted, int by) {
            wanted.openStrings = *parseTuning(around(tunings, tuningName(wanted.openStrings), by));
        },
        [this] {
            eachString = !eachString;
            return Wish{};
        });
    if (eachString)
        for (int string = 1; string <= guitar.stringCount(); ++string)
            ofGuitar(fmt::format("string {}", string),
                     noteName(guitar.openStrings[static_cast<std::size_t>(string - 1)]),
                     [string](Guitar& wanted, int by) {
                         wanted.openStrings[static_cast<std::size_t>(string - 1)].value += by;
                     });
    ofGuitar("capo", guitar.capo == 0 ? "none" : fmt::format("fret {}", guitar.capo),
             [](Guitar& wanted, int by) { wanted.capo = std::max(0, wanted.capo + by); });
    ofGuitar("highest fret", fmt::format("{}", guitar.highestFret),
             [](Guitar& wanted, int by) { wanted.highestFret += by; });
    ofGuitar("plays", guitar.leftHanded ? "left-handed" : "right-handed",
             [](Guitar& wanted, int) { wanted.leftHanded = !wanted.leftHanded; });
    ofGuitar("reference pitch A4", fmt::format("{:g} Hz", guitar.a4.value),
             [](Guitar& wanted, int by) { wanted.a4 = Hertz(std::round(wanted.a4.value) + by); });
}

void SettingsScreen::addSetUp() {
    const Guitar& guitar = now.guitar;
    const auto asks = [this](Typed what, std::string before, const char* how) {
        return [this, what, before = std::move(before), how] {
            return type(what, before, fmt::format("{} Then press enter; Esc cancels.", how));
        };
    };
    const std::string gauges =
        guitar.gaugesInch.empty() ? "" : fmt::format("{:.3f}", fmt::join(guitar.gaugesInch, " "));
    ofGuitar(
        "gauges", gaugesOf(guitar),
        [](Guitar& wanted, int by) {
            wanted.gaugesInch = around(stringSets(), wanted.gaugesInch, by);
            wanted.stiffness.clear();
        },
        asks(Typed::gauges, gauges, "Type the gauges in inches, the thinnest first."));
    ofGuitar("third string", guitar.plainStrings > 2 ? "plain" : "wound",
             [](Guitar& wanted, int) { wanted.plainStrings = wanted.plainStrings > 2 ? 2 : 3; });
    ofGuitar(
        "scale", fmt::format("{:g} mm", guitar.scaleMm),
        [](Guitar& wanted, int by) { wanted.scaleMm = along(scales, wanted.scaleMm, by); },
        asks(Typed::scale, fmt::format("{:g}", guitar.scaleMm), "Type the length from nut to saddle in mm."));
    ofGuitar(
        "fretboard radius", told(guitar.radiusMm),
        [](Guitar& wanted, int by) { wanted.radiusMm = along(radii, wanted.radiusMm, by); },
        asks(Typed::radius, fmt::format("{:g}", guitar.radiusMm), "Type the fretboard's radius in mm, 0: not told."));
    ofGuitar(
        "action", told(guitar.actionMm),
        [](Guitar& wanted, int by) {
            double& mm = wanted.actionMm;
            if (mm == 0.0) mm = by > 0 ? usualAction : 0.0;
            else mm = std::round((mm + by * actionStep) / actionStep) * actionStep;
            if (mm < lowestAction - 1e-6) mm = 0.0;
        },
        asks(Typed::action, fmt::format("{:g}", guitar.actionMm),
             "Type how high the lowest string is over the twelfth fret in mm, 0: not told."));
}

void SettingsScreen::addOtherGuitars() {
    add("rename", "enter", {}, [this] {
        return type(Typed::guitarName, now.guitar.name, "Type this guitar's name, then press enter. Esc cancels.");
    });
    add("same as another", "enter", {}, [this] {
        return type(Typed::sameGuitar, "",
                    fmt::format("Type its other name: what was played on {} becomes that one's, for good. "
                                "Then press enter; Esc cancels.",
                                now.guitar.name));
    });
    add("put away", "enter", {}, [this] { return putAway(); });
}

void SettingsScreen::addGuitar() {
    const Guitar& guitar = now.guitar;
    const std::string tuning = tuningName(guitar.openStrings);
    beginGroup("guitar", fmt::format("{}{} strings, {}", guitar.name == tuning ? "" : guitar.name + ", ",
                                     guitar.stringCount(), tuning));
    add(
        "guitar in hand", guitar.name, [this](int by) { return nextGuitar(by); },
        [this] {
            return type(Typed::guitar, "",
                        "Type another guitar's name, then press enter. A new one begins as this one is. Esc cancels.");
        });
    addTuning();
    addSetUp();
    addOtherGuitars();
    add("string check", "enter", {}, [] { return Wish{.open = Screen::stringCheck}; });
}

// The one that was in hand is kept as it is now.
Wish SettingsScreen::takeUp(Guitar other) {
    const auto known = [&](const Guitar& guitar) -> KnownGuitar& {
        const auto at = std::ranges::find(guitars, guitar.name, [](const auto& one) { return one.guitar.name; });
        return at != guitars.end() ? *at : guitars.emplace_back();
    };
    const Guitar before = std::exchange(now.guitar, std::move(other));
    known(before).guitar = before;
    KnownGuitar& here = known(now.guitar);
    here.guitar = now.guitar;
    here.archived = false;
    return {.guitarChange = Wish::GuitarChange{Wish::GuitarChange::Kind::keep, before}, .newSettings = true};
}

Wish SettingsScreen::nextGuitar(int by) {
    std::vector<std::string> names;
    for (const KnownGuitar& one : guitars)
        if (!one.archived || one.guitar.name == now.guitar.name) names.push_back(one.guitar.name);
    if (std::ranges::find(names, now.guitar.name) == names.end()) names.push_back(now.guitar.name);
    if (names.size() > 1) return guitarNamed(around(names, now.guitar.name, by));
    message = "There is only one guitar so far. Enter adds another.";
    return {};
}

Wish SettingsScreen::guitarNamed(const std::string& name) {
    if (name.empty()) return {};
    if (matchKey(name).empty()) {
        message = "A name has letters or digits.";
        return {};
    }
    if (matchKey(name) == matchKey(now.guitar.name)) return {};
    for (const KnownGuitar& one : guitars)
        if (matchKey(one.guitar.name) == matchKey(name)) return takeUp(one.guitar);
    Guitar fresh = now.guitar;
    fresh.name = name;
    fresh.stiffness.clear();
    return takeUp(fresh);
}

Wish SettingsScreen::guitarRenamed(const std::string& name) {
    const std::string before = now.guitar.name;
    if (name == before) return {};
    if (matchKey(name).empty()) {
        message = "A name has letters or digits.";
        return {};
    }
    for (const KnownGuitar& one : guitars)
        if (one.guitar.name != before && matchKey(one.guitar.name) == matchKey(name)) {
            message = fmt::format("There is a guitar {} already: choose another name, or say that they are the same.",
                                  one.guitar.name);
            return {};
        }
    for (KnownGuitar& one : guitars)
        if (one.guitar.name == before) one.guitar.name = name;
    Wish wish{.guitarChange = Wish::GuitarChange{Wish::GuitarChange::Kind::rename, now.guitar, name},
              .newSettings = true};
    now.guitar.name = name;
    return wish;
}

// Of two names for one guitar the one that is typed stays, with how the one in hand is now.
Wish SettingsScreen::guitarIs(const std::string& name) {
    if (name.empty()) return {};
    const std::string before = now.guitar.name;
    const auto other = std::ranges::find_if(guitars, [&](const KnownGuitar& one) {
        return one.guitar.name != before && matchKey(one.guitar.name) == matchKey(name);
    });
    if (other == guitars.end()) {
        message = fmt::format("There is no other guitar {}.", name);
        return {};
    }
    const std::string into = other->guitar.name;
    Wish wish{.guitarChange = Wish::GuitarChange{Wish::GuitarChange::Kind::merge, now.guitar, into},
              .newSettings = true};
    now.guitar.name = into;
    const auto here = std::ranges::find(guitars, before, [](const KnownGuitar& one) { return one.guitar.name; });
    other->played = other->played || (here != guitars.end() && here->played);
    other->guitar = now.guitar;
    other->archived = false;
    if (here != guitars.end()) guitars.erase(here);
    message = fmt::format("{} is {} now, with all that was played on it.", before, into);
    return wish;
}

// What was played on a guitar keeps it; one that was never played goes.
Wish SettingsScreen::putAway() {
    const std::string away = now.guitar.name;
    const auto other =
        std::ranges::find_if(guitars, [&](const KnownGuitar& one) { return !one.archived && one.guitar.name != away; });
    if (other == guitars.end()) {
        message = "There is no other guitar. Enter on the first line adds one.";
        return {};
    }
    Wish wish = takeUp(other->guitar);
    const auto here = std::ranges::find(guitars, away, [](const auto& one) { return one.guitar.name; });
    wish.guitarChange->kind = Wish::GuitarChange::Kind::putAway;
    message = here->played
                  ? fmt::format("{} is archived with all that was played on it. Its name brings it back.", away)
                  : fmt::format("{} was never played and is gone.", away);
    if (here->played) here->archived = true;
    else guitars.erase(here);
    return wish;
}

Wish SettingsScreen::setUpTyped(const std::string& text) {
    const std::vector<double> numbers = numbersIn(text);
    Guitar wanted = now.guitar;
    if (typedFor == Typed::gauges) {
        if (static_cast<int>(numbers.size()) != wanted.stringCount()) {
            message = fmt::format("Type {} numbers, one for each string, such as 0.010 0.013.", wanted.stringCount());
            return {};
        }
        wanted.gaugesInch = numbers;
        wanted.stiffness.clear();
    } else if (numbers.size() != 1) {
        message = "Type one number of millimetres, such as 1.6.";
        return {};
    } else if (typedFor == Typed::scale) wanted.scaleMm = numbers.front();
    else if (typedFor == Typed::radius) wanted.radiusMm = numbers.front();
    else wanted.actionMm = numbers.front();
    return guitarChanged(wanted);
}

}  // namespace landfall
