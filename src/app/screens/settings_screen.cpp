#include "src/app/screens/settings_screen.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include <fmt/core.h>

#include "gui/screen_view.h"
#include "src/app/screens/steps.h"
#include "src/app/screens/typed_text.h"
#include "src/store/students.h"

namespace landfall {

namespace {

using Kind = Intent::Kind;

constexpr std::array aims{50.0, 35.0, 25.0, 18.0, 12.0, 8.0};
constexpr std::array textSizes{1.0, 1.15, 1.3, 1.5};
constexpr const char* systemInput = "the system's choice";
constexpr const char* simulatedInput = "simulated player";
constexpr const char* inputsOwn = "the input's own";
constexpr std::size_t longestPath = 400;  // characters

template <typename Enum, typename Names>
std::string nameOf(Enum value, const Names& names) {
    return names[static_cast<std::size_t>(value)];
}

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
        return Wish{.newSettings = true};
    });
    add("trace", nameOf(now.trace, tracingNames), [this](int by) {
        constexpr std::array says{"Tries with the live trace do not count in the totals.",
                                  "Live in the first tries, then after each try; the last set is by ear.",
                                  "Nothing is shown until you choose to see."};
        constexpr std::array order{Tracing::afterTry, Tracing::byEar, Tracing::whilePlaying};
        now.trace = around(order, now.trace, by);
        message = nameOf(now.trace, says);
        return Wish{.newSettings = true};
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
            return Wish{.newSettings = true};
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
        return Wish{.newSettings = true};
    });
    add("results sound", nameOf(now.results, sounded), [this](int by) {
        constexpr std::array says{"Results are on the screen alone.",
                                  "After each try you hear the target, then what you played, at the output level.",
                                  "After each try the system's speech service reads what the big line says."};
        now.results = around(std::array{Sounded::nothing, Sounded::tones, Sounded::speech}, now.results, by);
        message = nameOf(now.results, says);
        return Wish{.newSettings = true};
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
        return Wish{.newSettings = true};
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
        return Wish{.newSettings = true};
    });
    add("colours", isDark(now) ? "dark" : "light", [this](int) {
        now.theme = isDark(now) ? Theme::light : Theme::dark;
        return Wish{.newSettings = true};
    });
    add("full screen", now.fullScreen ? "on" : "off", [this](int) {
        now.fullScreen = !now.fullScreen;
        message = "F11 does the same, on every screen.";
        return Wish{.newSettings = true};
    });
}

void SettingsScreen::addLog() {
    const std::string place = now.log.empty() ? "the usual place" : now.log.string();
    beginGroup("log", fmt::format("{}, sound {}", place, now.keepTakes ? "kept" : "not kept"));
    add("sound of each try", now.keepTakes ? "kept" : "not kept", [this](int) {
        now.keepTakes = !now.keepTakes;
        if (now.keepTakes)
            message = "A FLAC file for each try, kept on this computer only: about 100 kB for each second you play.";
        return Wish{.newSettings = true};
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
    return Wish{.newSettings = true};
}

Wish SettingsScreen::studentTyped(const std::string& name) {
    Wish wish;
    if (name.empty()) return wish;
    wish.newSettings = wish.newStudent = name != now.student;
    // Whoever has played so far gets a name; then others come beside.
    if (wish.newStudent && now.student == unnamed) {
        wish.named = std::string(unnamed);
        std::erase(students, unnamed);
    }
    now.student = name;
    if (std::find(students.begin(), students.end(), name) == students.end()) students.push_back(name);
    return wish;
}

Wish SettingsScreen::typedIn() {
    const std::string text = trimmed(*typing);
    typing.reset();
    switch (typedFor) {
        case Typed::student: return studentTyped(text);
        case Typed::guitar: return guitarNamed(text);
        case Typed::guitarName: return guitarRenamed(text);
        case Typed::sameGuitar: return guitarIs(text);
        case Typed::log: break;
        default: return setUpTyped(text);
    }
    const bool other = now.log != text;
    now.log = text;
    return {.newSettings = other, .newStudent = other};
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
                       typedFor == Typed::log ? longestPath : longestStudentName);
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
