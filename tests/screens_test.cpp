#include <doctest/doctest.h>

#include <algorithm>
#include <string>

#include "src/app/screens/drills_screen.h"
#include "src/app/screens/settings_screen.h"
#include "tests/support/command.h"

using namespace landfall;

namespace {

// GLFW 3.3 key codes (glfw3.h, "Keyboard keys").
constexpr int enter = 257, backspace = 259, escape = 256, right = 262, left = 263, down = 264, up = 265;

// Keys go the whole way: through what a key means on the screen shown.
std::optional<DrillChosen> press(DrillsScreen& screen, std::initializer_list<int> keys) {
    std::optional<DrillChosen> wish;
    for (const int key : keys) {
        Snapshot shown;
        shown.screen = Screen::drills;
        shown.drills = screen.view();
        for (const Intent& intent : intentsForKey(shown, key)) wish = screen.act(intent).play;
    }
    return wish;
}

Wish press(SettingsScreen& screen, std::initializer_list<int> keys) {
    Wish wish;
    for (const int key : keys) {
        Snapshot shown;
        shown.screen = Screen::settings;
        shown.settings = screen.view();
        for (const Intent& intent : intentsForKey(shown, key)) wish = screen.act(intent);
    }
    return wish;
}

void typeText(SettingsScreen& screen, const std::u32string& text) {
    for (const char32_t character : text) {
        Snapshot shown;
        shown.screen = Screen::settings;
        shown.settings = screen.view();
        for (const Intent& intent : intentsForCharacter(shown, character)) screen.act(intent);
    }
}

// Goes down to the row of that name.
void goTo(SettingsScreen& screen, const std::string& label) {
    for (int i = 0; i < 60; ++i) press(screen, {up});
    for (int i = 0; i < 60; ++i) {
        const SettingList& list = screen.view();
        const SettingRow& row = list.rows[static_cast<std::size_t>(list.selected)];
        if (row.label == label && row.kind == SettingRow::Kind::grouped) return;
        if (row.kind == SettingRow::Kind::group) press(screen, {right});
        press(screen, {down});
    }
    FAIL("no row " << label);
}

// As the list shows it, else as another list does that is unfolded there.
std::string valueOf(const SettingsScreen& screen, const std::string& label) {
    for (const SettingRow& row : screen.view().rows)
        if (row.label == label && row.kind == SettingRow::Kind::grouped) return row.value;
    SettingsScreen other(screen.settings());
    goTo(other, label);
    return other.view().rows[static_cast<std::size_t>(other.view().selected)].value;
}

std::vector<std::string> names(const DrillsScreen& screen) {
    std::vector<std::string> found;
    for (const DrillRow& row : screen.view().rows) found.push_back(row.name);
    return found;
}

}  // namespace

TEST_CASE("every built-in drill is in the list with what it trains, where and how long") {
    const DrillsScreen screen(Guitar{}, {});
    const DrillList& list = screen.view();
    REQUIRE(list.rows.size() == builtInDrills().size() + builtInPhrases().size());
    CHECK(list.rows.front().name == "Half up");
    CHECK(list.rows.front().where == "B string 8, 9, 10");
    // Three places, six tries each of 5 s, and two rests of 20 s: 130 s, to the nearest half minute.
    CHECK(list.rows.front().length == "18 tries, 2 min");
    CHECK_FALSE(list.rows.front().trains.empty());
    CHECK(list.gestures == "every gesture");
    CHECK(list.strings == "every string");
    CHECK(list.selected == 0);
}

TEST_CASE("enter plays the chosen drill, as it is") {
    DrillsScreen screen(Guitar{}, {});
    const auto wish = press(screen, {down, down, enter});
    REQUIRE(wish);
    CHECK(wish->drill.name == screen.view().rows[2].name);
    CHECK_FALSE(wish->keep);
    CHECK_FALSE(wish->heavyAsked);
}

TEST_CASE("the list stops at its end, and a second click on a row plays it") {
    DrillsScreen screen(Guitar{}, {});
    for (int i = 0; i < 40; ++i) press(screen, {down});
    CHECK(screen.view().selected == static_cast<int>(screen.view().rows.size()) - 1);
    CHECK_FALSE(screen.act({Intent::Kind::pick, Screen::drills, 1}).play);
    CHECK(screen.view().selected == 1);
    const auto wish = screen.act({Intent::Kind::pick, Screen::drills, 1}).play;
    REQUIRE(wish);
    CHECK(wish->drill.name == screen.view().rows[1].name);
}

TEST_CASE("left and right filter by gesture; one line up they filter by string") {
    DrillsScreen screen(Guitar{}, {});
    press(screen, {right});
    CHECK(screen.view().gestures == "bends");
    for (const std::string& name : names(screen)) CHECK(name != "Twelve along");
    press(screen, {left, left, left});
    CHECK(screen.view().gestures == "slides");
    const auto slides = names(screen);
    REQUIRE(slides.size() > 2);  // phrases behind the drills
    CHECK(slides[0] == "Twelve along");
    CHECK(slides[1] == "One fret in");
    CHECK(std::ranges::count(slides, "Lantern Street") == 1);
    press(screen, {right, right, up, right, right});
    CHECK(screen.view().line == DrillList::Line::strings);
    CHECK(screen.view().gestures == "every gesture");
    const std::string string = screen.view().strings;
    CHECK(string == "G string");
    CHECK_FALSE(screen.view().rows.empty());
    for (const DrillRow& row : screen.view().rows) {
        const bool named =
            row.where.find(string) != std::string::npos || row.where.find("G ") != std::string::npos;  // "G 7 + B 7"
        CHECK_MESSAGE(named, row.name);
    }
    press(screen, {down, down});
    CHECK(screen.view().line == DrillList::Line::drills);
}

TEST_CASE("a drill of several strings says its shapes, those of this guitar only, and stays where it is written") {
    Guitar shortNeck;
    shortNeck.highestFret = 16;
    DrillsScreen screen(shortNeck, {});
    while (screen.view().rows[static_cast<std::size_t>(screen.view().selected)].name != "All the way up")
        press(screen, {down});
    const auto row = screen.view().rows[static_cast<std::size_t>(screen.view().selected)];
    CHECK(row.where == "not on this guitar");
    press(screen, {'E'});
    CHECK_FALSE(screen.view().elsewhere);
    CHECK(screen.view().message == "Several strings are played where they are written");
    DrillsScreen whole(Guitar{}, {});
    for (const DrillRow& each : whole.view().rows)
        if (each.name == "All the way up") CHECK(each.where == "D 5 + G 4 + B 3; G 5 + B 5 + high E 3");
}

TEST_CASE("filters that no drill passes leave an empty list, and enter does nothing there") {
    DrillsScreen screen(Guitar{}, {});
    press(screen, {left, left, left});  // pre-bends
    press(screen, {up});
    bool empty = false;
    for (int i = 0; i < 8 && !empty; ++i) {
        press(screen, {right});
        empty = screen.view().rows.empty();
    }
    REQUIRE(empty);
    CHECK_FALSE(press(screen, {enter}));
    CHECK_FALSE(press(screen, {'E'}));
    CHECK_FALSE(screen.view().elsewhere);
}

TEST_CASE("a drill is taken to another string and fret range, kept under its own name, and played at once") {
    DrillsScreen screen(Guitar{}, {});
    press(screen, {'E'});
    REQUIRE(screen.view().elsewhere);
    CHECK(screen.view().elsewhere->drill == "Half up");
    CHECK(screen.view().elsewhere->rows[0].value == "B string");
    CHECK(screen.view().elsewhere->rows[1].value == "8");
    CHECK(screen.view().elsewhere->rows[2].value == "10");
    press(screen, {right, down, left, left, left, down, left, left, left});
    CHECK(screen.view().elsewhere->rows[0].value == "G string");
    CHECK(screen.view().elsewhere->plays.find("Frets 5, 6, 7: 18 tries, 2 min.") == 0);
    const auto wish = press(screen, {enter});
    REQUIRE(wish);
    CHECK(wish->keep);
    CHECK(wish->drill.name == "Half up · G string 5-7");
    CHECK(describePlaces(wish->drill, Guitar{}) == "G string 5, 6, 7");
    CHECK_FALSE(screen.view().elsewhere);
    CHECK(screen.view().rows[static_cast<std::size_t>(screen.view().selected)].name == "Half up · G string 5-7");

    // The file is read back as the same drill, and is there after the next start.
    const TestFolder folder;
    const auto file = keepDrill(folder / "drills", wish->drill);
    REQUIRE_MESSAGE(file, (file ? "" : file.error().message));
    const OwnDrills own = ownDrills(folder / "drills");
    CHECK(own.problems.empty());
    REQUIRE(own.drills.size() == 1);
    CHECK(own.drills[0].name == wish->drill.name);
    CHECK(drillAsToml(own.drills[0]) == drillAsToml(wish->drill));
    CHECK(names(DrillsScreen(Guitar{}, own))[builtInDrills().size()] == wish->drill.name);
}

TEST_CASE(
    "a drill with a long name, taken elsewhere, keeps what of the name a drill file may have; a slash in it leads to "
    "no other folder") {
    OwnDrills given;
    given.drills.push_back(builtInDrills().front());
    for (const char* name : {"Полшага вверх на второй струне, медленно и с удержанием в конце",
                             "up/and/up/and/up/and/up/and/up/and/up/and/up/and/up/and/up"}) {
        CAPTURE(name);
        given.drills.front().name = name;
        DrillsScreen screen(Guitar{}, given);
        screen.choose(name);
        press(screen, {'E', right});
        const auto wish = press(screen, {enter});
        REQUIRE(wish);
        CHECK(wish->drill.name.ends_with(" · G string 8-10"));
        const TestFolder folder;
        REQUIRE(keepDrill(folder / "drills", wish->drill));
        const OwnDrills own = ownDrills(folder / "drills");
        CHECK(own.problems.empty());
        REQUIRE(own.drills.size() == 1);
        CHECK(own.drills[0].name == wish->drill.name);
    }
}

TEST_CASE("a range with more frets than fit into four minutes is thinned out, both ends kept, and that is said") {
    DrillsScreen screen(Guitar{}, {});
    press(screen, {'E', down});
    for (int i = 0; i < 7; ++i) press(screen, {left});
    press(screen, {down});
    for (int i = 0; i < 5; ++i) press(screen, {right});
    CHECK(screen.view().elsewhere->plays.find("more would take over four minutes") != std::string::npos);
    const auto wish = press(screen, {enter});
    REQUIRE(wish);
    CHECK(wish->drill.places.front().fret == 1);
    CHECK(wish->drill.places.back().fret == 15);
    CHECK(drillLength(wish->drill).value <= 240.0);
    CHECK(parseDrill(drillAsToml(wish->drill), "copy.toml"));
}

TEST_CASE("the lowest fret pushes the highest before it, and neither leaves the neck") {
    DrillsScreen screen(Guitar{}, {});
    press(screen, {'E', down});
    for (int i = 0; i < 40; ++i) press(screen, {right});
    CHECK(screen.view().elsewhere->rows[1].value == screen.view().elsewhere->rows[2].value);
    CHECK(screen.view().elsewhere->rows[2].value == "22");
    for (int i = 0; i < 40; ++i) press(screen, {left});
    CHECK(screen.view().elsewhere->rows[1].value == "1");  // a bend needs a finger on the string
}

TEST_CASE("where a bend is hard on the hand it is said before it is asked for") {
    DrillsScreen screen(Guitar{}, {});
    screen.choose("Whole up");
    press(screen, {'E'});
    // A full step on the low E string: wound, so that nobody knows its force.
    while (screen.view().elsewhere->rows[0].value != "low E string") press(screen, {right});
    CHECK(screen.view().elsewhere->plays.find("Hard on the hand") != std::string::npos);
    const auto wish = press(screen, {enter});
    REQUIRE(wish);
    CHECK(wish->heavyAsked);
    CHECK_FALSE(press(screen, {escape}));
}

TEST_CASE("a drill taken elsewhere and left where it was is no copy, and escape takes nothing") {
    DrillsScreen screen(Guitar{}, {});
    const auto wish = press(screen, {'E', enter});
    REQUIRE(wish);
    CHECK_FALSE(wish->keep);
    CHECK(wish->drill.name == "Half up");
    press(screen, {'E', right, escape});
    CHECK_FALSE(screen.view().elsewhere);
    CHECK(names(screen).size() == builtInDrills().size() + builtInPhrases().size());
}

TEST_CASE("the next drill follows in the order of the list, the first after the last") {
    DrillsScreen screen(Guitar{}, {});
    CHECK(screen.after("Half up").drill.name == builtInDrills()[1].name);
    CHECK(screen.after(builtInDrills().back().name).drill.name == "Half up");
    CHECK(screen.after("a drill from a file elsewhere").drill.name == "Half up");
}

TEST_CASE("an own drill that cannot be read is named and the others are there") {
    const TestFolder folder;
    REQUIRE(keepDrill(folder.path, builtInDrills()[1]));
    writeText(folder / "broken.toml", "name = \"Broken\"\ntries = 60\n");
    const OwnDrills own = ownDrills(folder.path);
    CHECK(own.drills.size() == 1);
    const DrillsScreen screen(Guitar{}, own);
    CHECK(screen.view().rows.size() == builtInDrills().size() + 1 + builtInPhrases().size());
    CHECK(screen.view().message.find("broken.toml") != std::string::npos);
}

TEST_CASE("a neck too short for a drill says so instead of starting it") {
    Guitar shortNeck;
    shortNeck.highestFret = 12;
    DrillsScreen screen(shortNeck, {});
    screen.choose("Twelve along");
    const DrillRow& row = screen.view().rows[static_cast<std::size_t>(screen.view().selected)];
    REQUIRE(row.name == "Twelve along");
    CHECK(row.where == "not on this guitar");
    CHECK_FALSE(press(screen, {enter}));
    CHECK_FALSE(screen.view().message.empty());
    CHECK(screen.after("Whole up").drill.name != "Twelve along");
}

TEST_CASE("settings: a student and a standard guitar are there from the start") {
    const SettingsScreen screen(Settings{});
    CHECK(valueOf(screen, "student") == "player");
    CHECK(valueOf(screen, "strings") == "6");
    CHECK(valueOf(screen, "tuning") == "standard");
    CHECK(valueOf(screen, "aim") == "±25 ¢");
    CHECK(valueOf(screen, "trace") == "after the try");
    CHECK(valueOf(screen, "target") == "concert pitch");
    CHECK(valueOf(screen, "input") == "the system's choice");
}

TEST_CASE(
    "settings: one group is unfolded at a time, a folded one says what is in it, and the mark stays on its line") {
    SettingsScreen screen(Settings{});
    using RowKind = SettingRow::Kind;
    const auto groups = screen.view().rows.size();
    for (const SettingRow& row : screen.view().rows) {
        CHECK(row.kind == RowKind::group);
        CHECK_FALSE(row.value.empty());
    }
    CHECK(screen.view().rows[0].value == "6 strings, standard");
    press(screen, {down, enter});
    CHECK(screen.view().rows.size() > groups);
    CHECK(screen.view().rows[1].kind == RowKind::openGroup);
    CHECK(screen.view().rows[2].label == "student");
    CHECK(screen.view().selected == 1);
    press(screen, {up, right});  // the guitar's, by an arrow
    CHECK(screen.view().rows[0].kind == RowKind::openGroup);
    CHECK(screen.view().rows[1].label == "guitar in hand");
    CHECK(std::ranges::count(screen.view().rows, RowKind::openGroup, &SettingRow::kind) == 1);
    press(screen, {left});
    CHECK(screen.view().rows.size() == groups);
    // A click unfolds a group at once, marks a row, and chooses it where it is marked.
    screen.act({Intent::Kind::pick, Screen::settings, 3});
    CHECK(screen.view().rows[3].kind == RowKind::openGroup);
    screen.act({Intent::Kind::pick, Screen::settings, 5});
    CHECK(screen.view().selected == 5);
    CHECK_FALSE(screen.view().rows[5].learning);
    screen.act({Intent::Kind::pick, Screen::settings, 5});
    CHECK(screen.view().rows[5].learning);
}

TEST_CASE("drills: a filter that is clicked is the one that is changed") {
    DrillsScreen screen(Guitar{}, {});
    screen.act({Intent::Kind::pick, Screen::drills, pickedFilter(DrillList::Line::strings)});
    CHECK(screen.view().line == DrillList::Line::strings);
    screen.act({Intent::Kind::more, Screen::drills, 0});
    CHECK(screen.view().strings == "B string");  // the highest that a drill is for
    CHECK(screen.view().gestures == "every gesture");
    screen.act({Intent::Kind::pick, Screen::drills, pickedFilter(DrillList::Line::gestures)});
    screen.act({Intent::Kind::more, Screen::drills, 0});
    CHECK(screen.view().gestures != "every gesture");
}

TEST_CASE("settings: a change is there at once and asks to be saved, and the file keeps what it does not know") {
    const TestFolder folder;
    writeText(folder / "settings.toml", "mystery = 3\n[practice]\naim_cents = 18.0\nodd = \"stays\"\n");
    const auto loaded = loadSettings(folder / "settings.toml");
    REQUIRE(loaded);
    SettingsScreen screen(loaded->settings);
    goTo(screen, "aim");
    const Wish wish = press(screen, {right});
    CHECK(wish.newSettings);
    CHECK_FALSE(wish.newInput);
    CHECK(valueOf(screen, "aim") == "±12 ¢");
    REQUIRE(saveSettings(folder / "settings.toml", screen.settings()));
    CHECK(loadSettings(folder / "settings.toml")->settings.aim == Cents(12.0));
    const std::string text = readText(folder / "settings.toml");
    CHECK(text.find("mystery = 3") != std::string::npos);
    CHECK(text.find("odd = 'stays'") != std::string::npos);
}

TEST_CASE("settings: tunings by name, then string by string; what no guitar can be is said and not made") {
    SettingsScreen screen(Settings{});
    goTo(screen, "tuning");
    press(screen, {right, right, right});
    CHECK(valueOf(screen, "tuning") == "drop D");
    CHECK(screen.settings().guitar.openStrings.back() == MidiPitch(38));
    press(screen, {enter});
    CHECK(valueOf(screen, "string 6") == "D2");
    goTo(screen, "string 5");
    press(screen, {left, left});
    CHECK(valueOf(screen, "tuning") == "D2 G2 D3 G3 B3 E4");
    for (int i = 0; i < 30; ++i) press(screen, {left});
    CHECK(valueOf(screen, "string 5") == "B1");
    CHECK(screen.view().message.find("too low") != std::string::npos);
    goTo(screen, "strings");
    press(screen, {left});
    CHECK(valueOf(screen, "strings") == "5");
    goTo(screen, "capo");
    CHECK_FALSE(press(screen, {left}).newSettings == false);
    CHECK(valueOf(screen, "capo") == "none");
    goTo(screen, "plays");
    press(screen, {right});
    CHECK(screen.settings().guitar.leftHanded);
    goTo(screen, "reference pitch A4");
    for (int i = 0; i < 30; ++i) press(screen, {right});
    CHECK(screen.settings().guitar.a4 == Hertz(450.0));
    CHECK(screen.view().message.find("450") != std::string::npos);
}

TEST_CASE("settings: a seventh string is a fourth below the sixth") {
    SettingsScreen screen(Settings{});
    goTo(screen, "strings");
    press(screen, {right});
    CHECK(valueOf(screen, "strings") == "7");
    CHECK(valueOf(screen, "tuning") == "seven strings");
    press(screen, {right});  // an eighth would be below B1
    CHECK(valueOf(screen, "strings") == "7");
    CHECK_FALSE(screen.view().message.empty());
}

TEST_CASE("settings: any key is learned, escape leaves it, digits stay with the screens, and no key has two meanings") {
    SettingsScreen screen(Settings{});
    goTo(screen, "next");
    CHECK_FALSE(press(screen, {enter}).newSettings);
    CHECK(screen.view().rows[static_cast<std::size_t>(screen.view().selected)].learning);
    CHECK_FALSE(screen.view().rows[static_cast<std::size_t>(screen.view().selected)].steps);  // no arrows beside a key
    CHECK(press(screen, {267}).newSettings);  // page down: a common pedal
    CHECK(screen.settings().keys.next == 267);
    CHECK(valueOf(screen, "next") == "page down");

    press(screen, {enter, escape});
    CHECK(screen.settings().keys.next == 267);
    press(screen, {enter, '4'});
    CHECK(screen.settings().keys.next == 267);
    CHECK(screen.view().message.find("opens a screen") != std::string::npos);
    press(screen, {enter, 32});  // space was "again"
    CHECK(screen.settings().keys.next == 32);
    CHECK(screen.settings().keys.again == 267);
    CHECK(screen.view().message.find("changed places") != std::string::npos);
    CHECK(keyMapOf(screen.settings()).again == 267);

    // A pedal that sends an arrow: what it was taught counts, not the arrow's own meaning.
    press(screen, {enter, left});
    Snapshot practising;
    practising.screen = Screen::practice;
    practising.keys = keyMapOf(screen.settings());
    REQUIRE(intentsForKey(practising, left).size() == 1);
    CHECK(intentsForKey(practising, left)[0].kind == Intent::Kind::next);
}

TEST_CASE("settings: whoever has played so far is asked for a name first, and then others come beside") {
    SettingsScreen screen(Settings{});
    screen.setStudents({"player"});
    goTo(screen, "student");
    press(screen, {enter});
    CHECK(screen.view().message.find("What is your name?") == 0);
    typeText(screen, U"Ines");
    Wish wish = press(screen, {enter});
    CHECK(wish.named == "player");
    CHECK(wish.newStudent);
    CHECK(screen.settings().student == "Ines");
    CHECK_FALSE(press(screen, {right}).newStudent);  // nobody else is there
    press(screen, {enter});
    CHECK(screen.view().message.find("Type the student's name") == 0);
    typeText(screen, U"Noor");
    wish = press(screen, {enter});
    CHECK_FALSE(wish.named);
    CHECK(wish.newStudent);
    CHECK(press(screen, {right}).newStudent);
    CHECK(screen.settings().student == "Ines");
}

TEST_CASE("settings: students of the log come round, and a new one is typed") {
    SettingsScreen screen(Settings{});
    screen.setStudents({"Ines", "Noor", "player"});
    goTo(screen, "student");
    Wish wish = press(screen, {right});
    CHECK(wish.newStudent);
    CHECK(screen.settings().student == "Ines");
    press(screen, {enter});
    CHECK(screen.view().rows[static_cast<std::size_t>(screen.view().selected)].typing);
    typeText(screen, U" Tobi ß♭x");
    press(screen, {backspace, backspace, backspace});
    typeText(screen, U"é4");
    CHECK(valueOf(screen, "student") == " Tobi é4");
    wish = press(screen, {enter});
    CHECK(wish.newStudent);
    CHECK(screen.settings().student == "Tobi é4");
    CHECK(valueOf(screen, "student") == "Tobi é4");
    press(screen, {enter});
    typeText(screen, U"nobody");
    CHECK_FALSE(press(screen, {escape}).newSettings);
    CHECK(screen.settings().student == "Tobi é4");
    CHECK_FALSE(press(screen, {enter, enter}).newSettings);  // an empty name is nobody
    CHECK(screen.settings().student == "Tobi é4");
}

TEST_CASE("settings: the log's place is typed, and nothing typed is the usual place") {
    SettingsScreen screen(Settings{});
    goTo(screen, "place");
    press(screen, {enter});
    typeText(screen, U"/elsewhere/log.sqlite");
    CHECK(press(screen, {enter}).newStudent);
    CHECK(screen.settings().log == "/elsewhere/log.sqlite");
    press(screen, {enter});
    for (int i = 0; i < 30; ++i) press(screen, {backspace});
    CHECK(press(screen, {enter}).newSettings);
    CHECK(screen.settings().log.empty());
    CHECK(valueOf(screen, "place") == "the usual place");
}

TEST_CASE("settings: inputs, the simulated player among them, and only channels that are there") {
    SettingsScreen screen(Settings{});
    screen.setDevices({{"ALSA: two inputs", 2}});
    goTo(screen, "input");
    Wish wish = press(screen, {right});
    CHECK(wish.newInput);
    CHECK(screen.settings().deviceName == "ALSA: two inputs");
    goTo(screen, "channel");
    CHECK(press(screen, {right}).newInput);
    CHECK_FALSE(press(screen, {right}).newInput);
    CHECK(screen.settings().channel == 2);
    goTo(screen, "input");
    press(screen, {right});
    CHECK(screen.settings().simulated);
    CHECK(screen.settings().channel == 1);
    CHECK(valueOf(screen, "input") == "simulated player");
    press(screen, {right});
    CHECK_FALSE(screen.settings().simulated);
    CHECK(valueOf(screen, "input") == "the system's choice");
}

TEST_CASE("settings: the output is the input's own or any other device that plays") {
    SettingsScreen screen(Settings{});
    screen.setDevices({{"ALSA: microphone", 1}, {"ALSA: loudspeakers", 0, false, 2}, {"JACK: system", 2, true, 2}});
    goTo(screen, "output");
    CHECK(valueOf(screen, "output") == "the input's own");
    const Wish wish = press(screen, {right});
    CHECK(wish.newInput);  // the two are opened together
    CHECK(screen.settings().outputName == "ALSA: loudspeakers");
    press(screen, {right});
    CHECK(screen.settings().outputName == "JACK: system");
    press(screen, {right});
    CHECK(screen.settings().outputName.empty());
    goTo(screen, "input");
    press(screen, {right});
    CHECK(screen.settings().deviceName == "ALSA: microphone");
    press(screen, {right});
    CHECK(screen.settings().deviceName == "JACK: system");  // loudspeakers hear nothing

    Settings away;
    away.outputName = "ALSA: unplugged";
    SettingsScreen later(away);
    goTo(later, "output");
    press(later, {right, right});
    CHECK(later.settings().outputName.empty());
    CHECK(valueOf(later, "output") == "the input's own");
}

TEST_CASE("settings: a device that is away at the moment stays chosen") {
    Settings settings;
    settings.deviceName = "JACK: away";
    SettingsScreen screen(settings);
    screen.setDevices({{"ALSA: here", 1}});
    CHECK(valueOf(screen, "input") == "JACK: away");
    goTo(screen, "input");
    press(screen, {left});
    CHECK(screen.settings().deviceName == "ALSA: here");
    press(screen, {left, left, left});
    CHECK_FALSE(valueOf(screen, "input").empty());
}

TEST_CASE("settings: level, tone, text and colours at once; string check, start and cautions are found again") {
    SettingsScreen screen(Settings{});
    goTo(screen, "output level");
    Wish wish = press(screen, {right});
    CHECK(wish.testTone);
    CHECK(screen.settings().soundLevel == Decibels(-27.0));
    for (int i = 0; i < 20; ++i) press(screen, {right});
    CHECK(screen.settings().soundLevel == Decibels(0.0));
    CHECK(screen.view().message.find("ears") != std::string::npos);
    CHECK(press(screen, {enter}).testTone);
    goTo(screen, "target note");
    press(screen, {enter});
    CHECK_FALSE(screen.settings().targetNote);
    goTo(screen, "text size");
    for (int i = 0; i < 9; ++i) press(screen, {right});
    CHECK(screen.settings().textSize == 1.5);
    goTo(screen, "colours");
    CHECK(isDark(screen.settings()));
    press(screen, {right});
    CHECK_FALSE(isDark(screen.settings()));
    goTo(screen, "sound of each try");
    press(screen, {right});
    CHECK(screen.settings().keepTakes);
    goTo(screen, "string check");
    CHECK(press(screen, {enter}).open == Screen::stringCheck);
    goTo(screen, "input and level");
    wish = press(screen, {enter});
    CHECK(wish.open == Screen::start);
    CHECK(wish.step == StartStep::device);
    goTo(screen, "cautions");
    CHECK(press(screen, {enter}).step == StartStep::care);
}

TEST_CASE("a phrase is chosen as a drill is, the player's own too; it is played where it is written") {
    OwnPhrases own;
    own.phrases.push_back(builtInPhrases().front());
    own.phrases.back().line.title = "Down the back stairs";
    own.problems = {"broken.musicxml: no part"};
    DrillsScreen screen(Guitar{}, {}, own);
    CHECK(names(screen).back() == "Down the back stairs");
    CHECK(screen.view().message == "broken.musicxml: no part");
    screen.choose("Two stairs down");
    const Wish wish = screen.act({Intent::Kind::choose, Screen::drills, 0});
    CHECK_FALSE(wish.play);
    REQUIRE(wish.phrase);
    CHECK(wish.phrase->title == "Two stairs down");
    press(screen, {'E'});
    CHECK_FALSE(screen.view().elsewhere);
    CHECK(screen.view().message == "A phrase is played where it is written");
}

TEST_CASE("a phrase for another tuning, a capo or a longer neck says so instead of starting") {
    const auto said = [](const Guitar& guitar) {
        DrillsScreen screen(guitar, {});
        screen.choose("Lantern Street");
        CHECK(screen.view().rows[static_cast<std::size_t>(screen.view().selected)].where == "not on this guitar");
        CHECK_FALSE(screen.act({Intent::Kind::choose, Screen::drills, 0}).phrase);
        return screen.view().message;
    };
    Guitar lower;
    for (MidiPitch& string : lower.openStrings) string = MidiPitch(string.value - 1.0);
    CHECK(said(lower).starts_with("Lantern Street is written for the tuning standard, without a capo"));
    Guitar capo;
    capo.capo = 2;
    CHECK(said(capo).find("set the guitar to it in the settings") != std::string::npos);
    Guitar shortNeck;
    shortNeck.highestFret = 5;
    CHECK(said(shortNeck).find("further than this guitar") != std::string::npos);
    // A string more below is no hindrance.
    Guitar seven;
    seven.openStrings.emplace_back(35.0);
    DrillsScreen screen(seven, {});
    screen.choose("Lantern Street");
    CHECK(screen.act({Intent::Kind::choose, Screen::drills, 0}).phrase);
}

TEST_CASE("a phrase with a bend that is hard on the hand says so first, and is played when it is asked for again") {
    OwnPhrases own;
    own.phrases.push_back(builtInPhrases().front());
    Line& line = own.phrases.back().line;
    line.title = "Bound for the wound ones";
    line.moves.front().move = {Gesture::bend, MidiPitch(60), MidiPitch(62), NeckPlace{4, 10}, std::nullopt};
    DrillsScreen screen(Guitar{}, {}, own);
    screen.choose(line.title);
    const Intent chooses{Intent::Kind::choose, Screen::drills, 0};
    CHECK_FALSE(screen.act(chooses).phrase);
    CHECK(screen.view().message.find("wound string") != std::string::npos);
    press(screen, {up});
    press(screen, {down});
    CHECK_FALSE(screen.act(chooses).phrase);
    CHECK(screen.act(chooses).phrase);
}

TEST_CASE("drills: a place for elsewhere is chosen on the neck, too, and the neck shows it") {
    DrillsScreen screen(Guitar{}, {});
    screen.choose("Half up");
    press(screen, {'E'});
    REQUIRE(screen.view().elsewhere);
    const auto pick = [&](int string, int fret) {
        screen.act({Intent::Kind::pick, Screen::drills, pickedPlace({string, fret})});
        return screen.view().elsewhere->neck;
    };
    Neck neck = pick(3, 5);
    CHECK(neck.place == NeckPlace{3, 5});
    press(screen, {down});  // the highest fret's row
    neck = pick(3, 9);
    CHECK(neck.place == NeckPlace{3, 5});
    CHECK(neck.targetFret == 9);
    neck = pick(3, 99);  // beyond the neck: the last there is
    CHECK(neck.targetFret.value_or(0) <= Guitar{}.highestFret);
}

TEST_CASE("settings: guitars of the log come round as they are now, and a new one begins as the one in hand is") {
    SettingsScreen screen(Settings{});
    goTo(screen, "guitar in hand");
    CHECK_FALSE(press(screen, {right}).newSettings);
    CHECK(screen.view().message == "There is only one guitar so far. Enter adds another.");
    Guitar heron{.name = "heron", .capo = 2}, before{.name = "heron"}, old{.name = "kite"};
    screen.setGuitars({{"a", heron, false, 0, {}}, {"b", before, false, 4, {}}, {"c", old, true, 1, {}}});
    goTo(screen, "guitar in hand");
    Wish wish = press(screen, {right});
    CHECK(screen.settings().guitar == heron);
    REQUIRE(wish.guitarChange);
    CHECK(wish.newSettings);
    CHECK(wish.guitarChange->kind == Wish::GuitarChange::Kind::keep);
    CHECK(wish.guitarChange->guitar == Guitar{});  // the one that was left
    press(screen, {right});
    CHECK(screen.settings().guitar == Guitar{});
    press(screen, {right});
    CHECK(screen.settings().guitar == heron);  // the archived one is left out ...
    press(screen, {enter});
    typeText(screen, U"Kite");
    press(screen, {enter});
    CHECK(screen.settings().guitar.name == "kite");  // ... until its name is said
    press(screen, {enter});
    typeText(screen, U"new one");
    wish = press(screen, {enter});
    CHECK(screen.settings().guitar == Guitar{.name = "new one"});
    REQUIRE(wish.guitarChange);
    CHECK(wish.guitarChange->guitar.name == "kite");
    press(screen, {enter});
    typeText(screen, U"- -");
    CHECK_FALSE(press(screen, {enter}).newSettings);
    CHECK(screen.view().message == "A name has letters or digits.");
}

TEST_CASE("settings: a guitar is renamed, archived with what was played on it, or gone where nothing was") {
    SettingsScreen screen(Settings{});
    goTo(screen, "put away");
    CHECK_FALSE(press(screen, {enter}).guitarChange);
    CHECK(screen.view().message.find("There is no other guitar") == 0);
    screen.setGuitars({{"a", Guitar{}, false, 3, {}}, {"b", Guitar{.name = "heron"}, false, 0, {}}});
    goTo(screen, "rename");
    press(screen, {enter});
    for (int i = 0; i < 20; ++i) press(screen, {backspace});
    typeText(screen, U"HERON");
    CHECK_FALSE(press(screen, {enter}).guitarChange);
    CHECK(screen.view().message
          == "There is a guitar heron already: choose another name, or say that they are the same.");
    press(screen, {enter});
    for (int i = 0; i < 20; ++i) press(screen, {backspace});
    typeText(screen, U"the red one");
    Wish wish = press(screen, {enter});
    REQUIRE(wish.guitarChange);
    CHECK(wish.guitarChange->kind == Wish::GuitarChange::Kind::rename);
    CHECK(wish.guitarChange->guitar.name == "standard");
    CHECK(wish.guitarChange->name == "the red one");
    CHECK(screen.settings().guitar.name == "the red one");
    goTo(screen, "put away");
    wish = press(screen, {enter});
    REQUIRE(wish.guitarChange);
    CHECK(wish.guitarChange->kind == Wish::GuitarChange::Kind::putAway);
    CHECK(wish.guitarChange->guitar.name == "the red one");
    CHECK(screen.settings().guitar.name == "heron");
    CHECK(screen.view().message.find("the red one is archived") == 0);
    CHECK_FALSE(press(screen, {enter}).guitarChange);  // there is no other one now
    goTo(screen, "guitar in hand");
    press(screen, {enter});
    typeText(screen, U"the red one");
    press(screen, {enter});
    CHECK(screen.settings().guitar.name == "the red one");  // back
    press(screen, {right});
    goTo(screen, "put away");
    press(screen, {enter});
    CHECK(screen.view().message == "heron was never played and is gone.");
}

TEST_CASE("settings: the guitar in hand is one with another once that one's name is typed") {
    SettingsScreen screen(Settings{});
    screen.setGuitars({{"a", Guitar{}, false, 3, {}}, {"b", Guitar{.name = "heron"}, true, 2, {}}});
    const auto says = [&](const char32_t* name) {
        goTo(screen, "same as another");
        press(screen, {enter});
        typeText(screen, name);
        return press(screen, {enter});
    };
    for (const char32_t* none : {U"kite", U"standard", U""}) CHECK_FALSE(says(none).guitarChange);
    const Wish wish = says(U"Heron");
    REQUIRE(wish.guitarChange);
    CHECK(wish.newSettings);
    CHECK(wish.guitarChange->kind == Wish::GuitarChange::Kind::merge);
    CHECK(wish.guitarChange->guitar.name == "standard");
    CHECK(wish.guitarChange->name == "heron");
    CHECK(screen.settings().guitar.name == "heron");
    CHECK(screen.view().message == "standard is heron now, with all that was played on it.");
    CHECK_FALSE(says(U"standard").guitarChange);  // there is none now
}

TEST_CASE("settings: gauges, third string, scale, radius and action are stepped through or typed") {
    Settings settings;
    settings.guitar.stiffness = {1e-4};
    SettingsScreen screen(settings);
    goTo(screen, "gauges");
    CHECK(valueOf(screen, "gauges") == "0.010 to 0.046 in");
    press(screen, {left});
    CHECK(screen.settings().guitar.gaugesInch.front() == 0.009);
    CHECK(screen.settings().guitar.stiffness.empty());  // other strings
    press(screen, {enter});
    for (int i = 0; i < 60; ++i) press(screen, {backspace});
    typeText(screen, U"0.0095 0.012, 0.016 0.024 0.034 0.044");
    press(screen, {enter});
    CHECK(screen.settings().guitar.gaugesInch == std::vector<double>{.0095, .012, .016, .024, .034, .044});
    press(screen, {enter});
    typeText(screen, U" 0.05");
    press(screen, {enter});
    CHECK(screen.view().message.find("Type 6 numbers") == 0);
    goTo(screen, "third string");
    press(screen, {right});
    CHECK(screen.settings().guitar.plainStrings == 2);
    goTo(screen, "scale");
    press(screen, {left});
    CHECK(screen.settings().guitar.scaleMm == 635.0);
    goTo(screen, "fretboard radius");
    CHECK(valueOf(screen, "fretboard radius") == "not told");
    press(screen, {right});
    CHECK(screen.settings().guitar.radiusMm == 184.0);
    goTo(screen, "action");
    press(screen, {right, right});
    CHECK(screen.settings().guitar.actionMm == doctest::Approx(1.7));
    press(screen, {enter});
    for (int i = 0; i < 10; ++i) press(screen, {backspace});
    typeText(screen, U"17");
    CHECK_FALSE(press(screen, {enter}).newSettings);
    CHECK(screen.view().message.find("an action of 17 mm") == 0);
    CHECK(screen.settings().guitar.actionMm == doctest::Approx(1.7));
    for (int i = 0; i < 20; ++i) press(screen, {left});
    CHECK(screen.settings().guitar.actionMm == 0.0);
}
