#include "src/app/screens/settings_screen.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include <fmt/core.h>

#include "gui/screen_view.h"
#include "src/app/screens/typed_text.h"
#include "src/music/note_name.h"

namespace landfall {

namespace {

using Kind = Intent::Kind;

constexpr std::array tunings{"standard", "half step down", "whole step down", "drop D", "seven strings"};
constexpr std::array aims{50.0, 35.0, 25.0, 18.0, 12.0, 8.0};
constexpr std::array textSizes{1.0, 1.15, 1.3, 1.5};
constexpr const char* systemInput = "the system's choice";
constexpr const char* simulatedInput = "simulated player";
constexpr const char* inputsOwn = "the input's own";
constexpr std::size_t longestName = 40, longestPath = 400;  // characters

// The value `by` places on from the one nearest to `now`, stopping at both ends.
template <typename Values>
double along(const Values& values, double now, int by) {
    int nearest = 0;
    for (int i = 1; i < static_cast<int>(values.size()); ++i)
        if (std::abs(values[static_cast<std::size_t>(i)] - now)
            < std::abs(values[static_cast<std::size_t>(nearest)] - now))
            nearest = i;
    return values[static_cast<std::size_t>(std::clamp(nearest + by, 0, static_cast<int>(values.size()) - 1))];
}

// The value `by` places on, in a circle; one that is not among them counts as before the first.
template <typename Values, typename Value>
Value around(const Values& values, const Value& now, int by) {
    const int count = static_cast<int>(std::size(values));
    const int at = static_cast<int>(std::find(std::begin(values), std::end(values), now) - std::begin(values));
    const int next = at == count ? (by > 0 ? 0 : count - 1) : (at + by + count) % count;
    return values[static_cast<std::size_t>(next)];
}

template <typename Enum, typename Names>
std::string nameOf(Enum value, const Names& names) {
    return names[static_cast<std::size_t>(value)];
}

Wish changed() { return {.newSettings = true}; }

constexpr const char* unnamed = "player";  // whoever plays until somebody says a name

}  // namespace

KeyMap keyMapOf(const Settings& settings) {
    const LearnedKeys& keys = settings.keys;
    return {keys.again, keys.next, keys.discard, keys.see, keys.under, keys.on, keys.over};
}

bool isDark(const Settings& settings) { return settings.theme != Theme::light; }

SettingsScreen::SettingsScreen(Settings settings) { use(std::move(settings)); }

void SettingsScreen::use(Settings settings) {
    now = std::move(settings);
    if (now.student.empty()) now.student = unnamed;
    refresh();
}

void SettingsScreen::setStudents(std::vector<std::string> names) {
    students = std::move(names);
    refresh();
}

void SettingsScreen::setDevices(std::vector<SoundDevice> found) {
    devices = std::move(found);
    refresh();
}

void SettingsScreen::say(std::string words) {
    message = std::move(words);
    refresh();
}

// A change that the guitar cannot be is said and not made.
Wish SettingsScreen::guitarChanged(const Guitar& wanted) {
    if (const auto checked = checkGuitar(wanted); !checked) {
        message = checked.error().message;
        return {};
    }
    now.guitar = wanted;
    return changed();
}

void SettingsScreen::beginGroup(std::string name, std::string summary) {
    groups.push_back({std::move(name), std::move(summary)});
}

void SettingsScreen::add(std::string label, std::string value, std::function<Wish(int)> step,
                         std::function<Wish()> choose) {
    groups.back().rows.push_back({std::move(label), std::move(value), std::move(step), std::move(choose)});
}

Wish SettingsScreen::type(Typed what, std::string before, std::string how) {
    typing = std::move(before);
    typedFor = what;
    message = std::move(how);
    return {};
}

void SettingsScreen::addGuitar() {
    const Guitar& guitar = now.guitar;
    beginGroup("guitar", fmt::format("{} strings, {}", guitar.stringCount(), tuningName(guitar.openStrings)));
    const auto of = [&](std::string label, std::string value, std::function<void(Guitar&, int)> change) {
        add(std::move(label), std::move(value), [this, change](int by) {
            Guitar wanted = now.guitar;
            change(wanted, by);
            return guitarChanged(wanted);
        });
    };
    of("strings", fmt::format("{}", guitar.stringCount()), [](Guitar& wanted, int by) {
        // A string more is a fourth below the lowest; a string fewer leaves the lowest out.
        if (by < 0) wanted.openStrings.pop_back();
        else wanted.openStrings.push_back(MidiPitch(wanted.openStrings.back().value - 5.0));
    });
    of("tuning", tuningName(guitar.openStrings), [](Guitar& wanted, int by) {
        wanted.openStrings = *parseTuning(around(tunings, tuningName(wanted.openStrings), by));
    });
    groups.back().rows.back().choose = [this] {
        eachString = !eachString;
        return Wish{};
    };
    if (eachString)
        for (int string = 1; string <= guitar.stringCount(); ++string)
            of(fmt::format("string {}", string), noteName(guitar.openStrings[static_cast<std::size_t>(string - 1)]),
               [string](Guitar& wanted, int by) {
                   wanted.openStrings[static_cast<std::size_t>(string - 1)].value += by;
               });
    of("capo", guitar.capo == 0 ? "none" : fmt::format("fret {}", guitar.capo),
       [](Guitar& wanted, int by) { wanted.capo = std::max(0, wanted.capo + by); });
    of("highest fret", fmt::format("{}", guitar.highestFret), [](Guitar& wanted, int by) { wanted.highestFret += by; });
    of("plays", guitar.leftHanded ? "left-handed" : "right-handed",
       [](Guitar& wanted, int) { wanted.leftHanded = !wanted.leftHanded; });
    of("reference pitch A4", fmt::format("{:g} Hz", guitar.a4.value),
       [](Guitar& wanted, int by) { wanted.a4 = Hertz(std::round(wanted.a4.value) + by); });
    add("string check", "enter", {}, [] { return Wish{.open = Screen::stringCheck}; });
}

void SettingsScreen::addPractice() {
    beginGroup("practice", fmt::format("{}, aim ±{:g} ¢", now.student, now.aim.value));
    const auto nextStudent = [this](int by) {
        std::vector<std::string> names = students;
        if (std::find(names.begin(), names.end(), now.student) == names.end()) names.insert(names.begin(), now.student);
        const std::string next = around(names, now.student, by);
        if (next == now.student) message = "There is only one student so far. Enter adds another.";
        const bool other = std::exchange(now.student, next) != next;
        return Wish{.newSettings = other, .newStudent = other};
    };
    add("student", now.student, nextStudent, [this] {
        return type(Typed::student, "",
                    now.student == unnamed ? "What is your name? Type it, then press enter. Esc cancels."
                                           : "Type the student's name, then press enter. Esc cancels.");
    });
    add("aim", fmt::format("±{:g} ¢", now.aim.value), [this](int by) {
        now.aim = Cents(along(aims, now.aim.value, by));
        message = "This near the target counts as good. 100 ¢ are one fret.";
        return changed();
    });
    add("trace", nameOf(now.trace, tracingNames), [this](int by) {
        constexpr std::array says{"Tries with the live trace do not count in the totals.",
                                  "Live in the first tries, then after each try; the last set is by ear.",
                                  "Nothing is shown until you choose to see."};
        constexpr std::array order{Tracing::afterTry, Tracing::byEar, Tracing::whilePlaying};
        now.trace = around(order, now.trace, by);
        message = nameOf(now.trace, says);
        return changed();
    });
    add("target", nameOf(now.target, std::array{"concert pitch", "from the start note", "own guitar", "just (pure)"}),
        [this](int by) {
            constexpr std::array says{"Equal temperament at the reference pitch.",
                                      "The note a bend starts from, plus the interval.",
                                      "The target fret as this guitar sounds it.",
                                      "Two strings pure to each other; one string at concert pitch."};
            now.target =
                around(std::array{Target::concert, Target::startNote, Target::ownGuitar, Target::just}, now.target, by);
            message = nameOf(now.target, says);
            return changed();
        });
    add("cautions", "enter", {}, [] { return Wish{.open = Screen::start, .step = StartStep::care}; });
}

void SettingsScreen::addHandsFull() {
    constexpr std::array goesOn{"by key", "by waiting", "by two muted strokes"};
    constexpr std::array sounded{"no", "as two tones", "spoken"};
    beginGroup("hands full", fmt::format("go on {}", nameOf(now.goOn, goesOn)));
    add("go on", nameOf(now.goOn, goesOn), [this](int by) {
        constexpr std::array says{"A page that is done waits for its key.",
                                  "A page that is done goes on after a while, the end of a drill after 20 s.",
                                  "Damp the strings and strike them twice: a page or a rest goes on."};
        now.goOn = around(std::array{GoOn::key, GoOn::waiting, GoOn::mutedStrokes}, now.goOn, by);
        message = nameOf(now.goOn, says);
        return changed();
    });
    add("results sound", nameOf(now.results, sounded), [this](int by) {
        constexpr std::array says{"Results are on the screen alone.",
                                  "After each try you hear the target, then what you played, at the output level.",
                                  "After each try the system's speech service reads what the big line says."};
        now.results = around(std::array{Sounded::nothing, Sounded::tones, Sounded::speech}, now.results, by);
        message = nameOf(now.results, says);
        return changed();
    });
}

void SettingsScreen::addKeys() {
    beginGroup("keys", fmt::format("again {}, next {}", keyName(now.keys.again), keyName(now.keys.next)));
    const auto of = [&](const char* label, int LearnedKeys::*key) {
        add(label, keyName(now.keys.*key), {}, [this, key] {
            learning = key;
            message = "Press a key or a pedal. Esc cancels.";
            return Wish{};
        });
    };
    of("again", &LearnedKeys::again);
    of("next", &LearnedKeys::next);
    of("drop this try", &LearnedKeys::discard);
    of("see it now", &LearnedKeys::see);
    of("by ear: under", &LearnedKeys::under);
    of("by ear: on it", &LearnedKeys::on);
    of("by ear: over", &LearnedKeys::over);
}

void SettingsScreen::addInput() {
    const std::string used = now.simulated ? simulatedInput : now.deviceName.empty() ? systemInput : now.deviceName;
    const Wish newInput{.newSettings = true, .newInput = true};
    beginGroup("sound", used);
    add("input", used, [this, used, newInput](int by) {
        std::vector<std::string> labels{systemInput};
        for (const SoundDevice& device : devices)
            if (device.inputs > 0) labels.push_back(device.label);
        if (!now.simulated && !now.deviceName.empty() && std::find(labels.begin(), labels.end(), used) == labels.end())
            labels.push_back(used);
        labels.push_back(simulatedInput);
        const std::string next = around(labels, used, by);
        now.simulated = next == simulatedInput;
        now.deviceName = now.simulated || next == systemInput ? "" : next;
        now.channel = 1;
        return Wish(newInput);
    });
    add("channel", fmt::format("{}", now.channel), [this, newInput](int by) {
        const auto input = std::find_if(devices.begin(), devices.end(),
                                        [&](const SoundDevice& one) { return one.label == now.deviceName; });
        const int most = now.simulated ? 1 : input != devices.end() ? std::max(1, input->inputs) : 8;
        const int wanted = std::clamp(now.channel + by, 1, most);
        return std::exchange(now.channel, wanted) == wanted ? Wish{} : newInput;
    });
    add("input and level", "enter", {}, [] { return Wish{.open = Screen::start, .step = StartStep::device}; });
}

void SettingsScreen::addOutput() {
    const std::string played = now.outputName.empty() ? inputsOwn : now.outputName;
    add("output", played, [this, played](int by) {
        std::vector<std::string> labels{inputsOwn};
        for (const SoundDevice& device : devices)
            if (device.outputs > 0) labels.push_back(device.label);
        if (std::find(labels.begin(), labels.end(), played) == labels.end()) labels.push_back(played);
        const std::string next = around(labels, played, by);
        if (next == played) return Wish{};
        now.outputName = next == inputsOwn ? "" : next;
        return Wish{.newSettings = true, .newInput = !now.simulated};  // both are opened together
    });
    add("target note", now.targetNote ? "before each place" : "off", [this](int) {
        now.targetNote = !now.targetNote;
        return changed();
    });
    const auto level = now.soundLevel.value < 0.0 ? fmt::format("−{:g} dB", -now.soundLevel.value) : "0 dB";
    const auto otherLevel = [this](int by) {
        now.soundLevel = Decibels(std::clamp(3.0 * std::round(now.soundLevel.value / 3.0) + 3.0 * by, -60.0, 0.0));
        if (now.soundLevel.value > -12.0) message = "This is loud. Mind your ears, above all on headphones.";
        return Wish{.newSettings = true, .testTone = true};
    };
    add("output level", level, otherLevel, [] { return Wish{.testTone = true}; });
}

void SettingsScreen::addScreen() {
    const std::string size = fmt::format("{:g} %", std::round(100.0 * now.textSize));
    beginGroup("screen", fmt::format("text {}, {}", size, isDark(now) ? "dark" : "light"));
    add("text size", size, [this](int by) {
        now.textSize = along(textSizes, now.textSize, by);
        return changed();
    });
    add("colours", isDark(now) ? "dark" : "light", [this](int) {
        now.theme = isDark(now) ? Theme::light : Theme::dark;
        return changed();
    });
    add("full screen", now.fullScreen ? "on" : "off", [this](int) {
        now.fullScreen = !now.fullScreen;
        message = "F11 does the same, on every screen.";
        return changed();
    });
}

void SettingsScreen::addLog() {
    const std::string place = now.log.empty() ? "the usual place" : now.log.string();
    beginGroup("log", fmt::format("{}, sound {}", place, now.keepTakes ? "kept" : "not kept"));
    add("sound of each try", now.keepTakes ? "kept" : "not kept", [this](int) {
        now.keepTakes = !now.keepTakes;
        if (now.keepTakes)
            message = "A FLAC file for each try, kept on this computer only: about 100 kB for each second you play.";
        return changed();
    });
    add("place", place, {}, [this] {
        return type(Typed::log, now.log.string(),
                    "Type the file's name, then press enter. Leave it empty for the usual place.");
    });
}

void SettingsScreen::build() {
    groups.clear();
    addGuitar();
    addPractice();
    addHandsFull();
    addKeys();
    addInput();
    addOutput();
    addScreen();
    addLog();
    lines.clear();
    for (std::size_t group = 0; group < groups.size(); ++group) {
        lines.push_back({group});
        if (unfolded != group) continue;
        for (std::size_t row = 0; row < groups[group].rows.size(); ++row) lines.push_back({group, row});
    }
    selected = std::clamp(selected, 0, static_cast<int>(lines.size()) - 1);
}

void SettingsScreen::refresh() {
    build();
    using RowKind = SettingRow::Kind;
    list.rows.clear();
    for (std::size_t i = 0; i < lines.size(); ++i) {
        const Group& group = groups[lines[i].group];
        if (!lines[i].row) {
            const bool open = unfolded == lines[i].group;
            list.rows.push_back({.label = group.name,
                                 .value = open ? "" : group.summary,
                                 .steps = false,
                                 .kind = open ? RowKind::openGroup : RowKind::group});
            continue;
        }
        const Row& row = group.rows[*lines[i].row];
        const bool here = static_cast<int>(i) == selected;
        list.rows.push_back({.label = row.label,
                             .value = here && typing ? *typing : row.value,
                             .learning = here && learning != nullptr,
                             .typing = here && typing.has_value(),
                             .steps = static_cast<bool>(row.step),
                             .kind = RowKind::grouped});
    }
    list.selected = selected;
    list.message = message;
}

// The others fold, so that the list stays short; its own line keeps the mark.
void SettingsScreen::showOnly(std::size_t group, bool unfold) {
    unfolded = unfold ? std::optional(group) : std::nullopt;
    selected = static_cast<int>(group);  // above it all are folded
}

Wish SettingsScreen::learned(int key) {
    // Digits open the screens, escape leaves: a practice key must not take that away.
    if (key >= '1' && key < '1' + static_cast<int>(screenViews().size())) {
        message = fmt::format("{} opens a screen. Choose another key.", keyName(key));
        learning = nullptr;
        return {};
    }
    const int before = now.keys.*learning;
    // A key that meant something else changes places with it.
    for (int LearnedKeys::*other : {&LearnedKeys::again, &LearnedKeys::next, &LearnedKeys::discard, &LearnedKeys::see,
                                    &LearnedKeys::under, &LearnedKeys::on, &LearnedKeys::over})
        if (other != learning && now.keys.*other == key) {
            now.keys.*other = before;
            message = fmt::format("{} was in use already, so the two keys have changed places.", keyName(key));
        }
    now.keys.*learning = key;
    learning = nullptr;
    return changed();
}

Wish SettingsScreen::typedIn() {
    Wish wish;
    const std::string text = trimmed(*typing);
    typing.reset();
    if (typedFor == Typed::student) {
        if (text.empty()) return wish;
        wish.newSettings = wish.newStudent = text != now.student;
        // Whoever has played so far gets a name; then others come beside.
        if (wish.newStudent && now.student == unnamed) {
            wish.named = std::string(unnamed);
            std::erase(students, unnamed);
        }
        now.student = text;
        if (std::find(students.begin(), students.end(), text) == students.end()) students.push_back(text);
    } else {
        wish.newSettings = wish.newStudent = now.log != text;
        now.log = text;
    }
    return wish;
}

Wish SettingsScreen::actOn(Line line, const Intent& intent) {
    const bool less = intent.kind == Kind::less, more = intent.kind == Kind::more,
               chosen = intent.kind == Kind::choose || intent.kind == Kind::pick;
    if (!less && !more && !chosen) return {};
    if (!line.row) {
        showOnly(line.group, more || (chosen && unfolded != line.group));
        return {};
    }
    const Row row = groups[line.group].rows[*line.row];  // a step makes them anew
    if (chosen && row.choose) return row.choose();
    return row.step ? row.step(less ? -1 : +1) : Wish{};
}

Wish SettingsScreen::act(const Intent& intent) {
    Wish wish;
    if (!typing || intent.kind == Kind::choose || intent.kind == Kind::decline) message.clear();
    if (learning) {
        if (intent.kind == Kind::learned) wish = learned(intent.value);
        else learning = nullptr;
    } else if (typing) {
        switch (intent.kind) {
            case Kind::typed:
                append(*typing, static_cast<unsigned>(intent.value),
                       typedFor == Typed::student ? longestName : longestPath);
                break;
            case Kind::erase: eraseLast(*typing); break;
            case Kind::choose: wish = typedIn(); break;
            default: typing.reset(); break;
        }
    } else {
        const int last = static_cast<int>(lines.size()) - 1;
        const bool picked = intent.kind == Kind::pick && intent.value == selected;
        if (intent.kind == Kind::pick) selected = std::clamp(intent.value, 0, last);
        const Line line = lines[static_cast<std::size_t>(selected)];
        if (intent.kind == Kind::previous) selected = std::max(0, selected - 1);
        else if (intent.kind == Kind::following) selected = std::min(last, selected + 1);
        // A click marks a row first; a group has nothing else to be clicked for.
        else if (intent.kind != Kind::pick || picked || !line.row) wish = actOn(line, intent);
    }
    refresh();
    return wish;
}

}  // namespace landfall
