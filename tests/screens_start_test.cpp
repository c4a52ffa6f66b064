#include <doctest/doctest.h>

#include <string>

#include "src/app/screens/start_screen.h"
#include "src/app/screens/strings_screen.h"

using namespace landfall;

namespace {

// GLFW 3.3 key codes (glfw3.h, "Keyboard keys").
constexpr int enter = 257, backspace = 259, left = 263, down = 264;

Drill halfUp() {
    Drill drill;
    drill.name = "Half up";
    drill.trains = "The half-step bend.";
    return drill;
}

Wish press(StartScreen& screen, std::initializer_list<int> keys) {
    Wish wish;
    for (const int key : keys) {
        Snapshot shown;
        shown.screen = Screen::start;
        shown.start = screen.view();
        for (const Intent& intent : intentsForKey(shown, key)) wish = screen.act(intent);
    }
    return wish;
}

Wish press(StringsScreen& screen, std::initializer_list<int> keys) {
    Wish wish;
    for (const int key : keys) {
        Snapshot shown;
        shown.screen = Screen::stringCheck;
        shown.strings = screen.view();
        for (const Intent& intent : intentsForKey(shown, key)) wish = screen.act(intent);
    }
    return wish;
}

// Open strings as they would sound, `cents` off.
void play(StringsScreen& screen, const Guitar& guitar, int string, double cents) {
    const Hertz pitch = frequencyOf(pitchAt(guitar, {string, 0}) + Cents(cents), guitar.a4);
    screen.hear({Seconds(1.0), pitch, Cents(0.5)});
}

StartScreen withInputs() {
    StartScreen screen(halfUp());
    screen.setDevices({{"ALSA: two inputs", 2}, {"ALSA: microphone", 1}}, {});
    return screen;
}

}  // namespace

TEST_CASE("start: every channel of every device is a row, and the simulated player is the last") {
    const StartScreen screen = withInputs();
    const Start& start = screen.view();
    CHECK(start.step == StartStep::device);
    REQUIRE(start.inputs.size() == 4);
    CHECK(start.inputs[0].name == "ALSA: two inputs, channel 1");
    CHECK(start.inputs[1].name == "ALSA: two inputs, channel 2");
    CHECK(start.inputs[2].name == "ALSA: microphone");
    CHECK(start.inputs[3].name == "Simulated player");
    CHECK(start.firstDrill == "Half up");
}

TEST_CASE("start: the input that moves marks itself, and is used with enter") {
    StartScreen screen = withInputs();
    const std::vector<InputLevels> quiet{{"ALSA: two inputs", {Decibels(-71.0), Decibels(-62.0)}},
                                         {"ALSA: microphone", {Decibels(-45.0)}}};
    CHECK(screen.levels(quiet));
    CHECK_FALSE(screen.levels(quiet));
    CHECK(screen.view().selected == 0);
    CHECK_FALSE(screen.view().moves);
    CHECK(screen.levels(
        {{"ALSA: two inputs", {Decibels(-71.0), Decibels(-14.0)}}, {"ALSA: microphone", {Decibels(-18.0)}}}));
    CHECK(screen.view().inputs[0].level == Decibels(-71.0));
    CHECK(screen.view().inputs[1].level == Decibels(-14.0));
    CHECK(screen.view().inputs[2].level == Decibels(-18.0));
    CHECK(screen.view().inputs[3].level == Decibels(-140.0));  // the simulated player
    CHECK(screen.view().selected == 1);
    CHECK(screen.view().moves);
    CHECK(screen.levels({{"ALSA: microphone", {Decibels(-10.0)}}}));
    CHECK(screen.view().selected == 2);
    CHECK(screen.levels(
        {{"ALSA: two inputs", {Decibels(-71.0), Decibels(-11.0)}}, {"ALSA: microphone", {Decibels(-15.0)}}}));
    CHECK(screen.view().selected == 2);  // not clearly louder: a mark that jumps to and fro helps nobody
    CHECK(screen.levels(
        {{"ALSA: two inputs", {Decibels(-71.0), Decibels(-9.0)}}, {"ALSA: microphone", {Decibels(-15.0)}}}));
    const Wish wish = press(screen, {enter});
    CHECK(wish.input);
    CHECK(screen.input()->device == "ALSA: two inputs");
    CHECK(screen.input()->channel == 2);
    CHECK(screen.view().step == StartStep::level);
}

TEST_CASE("start: once a key has marked an input, no sound moves the mark") {
    StartScreen screen = withInputs();
    press(screen, {down});
    screen.levels({{"ALSA: microphone", {Decibels(-6.0)}}});
    CHECK(screen.view().selected == 1);
    CHECK_FALSE(screen.view().moves);
    press(screen, {down});
    CHECK_FALSE(screen.view().moves);
    CHECK(screen.levels({{"ALSA: microphone", {Decibels(-6.0)}}}));  // the bars are as they were, the words are not
    CHECK(screen.view().moves);
    screen.lookingForDevices();  // opened another time
    screen.setDevices({{"ALSA: two inputs", 2}, {"ALSA: microphone", 1}}, {});
    CHECK(screen.view().selected == 0);  // what moved then does not count now
    screen.levels({{"ALSA: microphone", {Decibels(-6.0)}}});
    CHECK(screen.view().selected == 2);
}

TEST_CASE(
    "start: a device that is not found because it is heard stays in the list, and enter on the input in use changes "
    "nothing") {
    StartScreen screen(halfUp());
    const InputChosen inUse{false, "ALSA: one program only", 1};
    screen.setDevices({{"ALSA: microphone", 1, true}}, inUse);
    CHECK(screen.view().selected == 0);
    screen.levels({{"ALSA: one program only", {Decibels(-60.0), Decibels(-140.0)}}});
    REQUIRE(screen.view().inputs.size() == 4);
    CHECK(screen.view().inputs[1].name == "ALSA: one program only, channel 1");
    CHECK(screen.view().selected == 1);
    for (int again = 0; again < 3; ++again) screen.setDevices({{"ALSA: microphone", 1, true}}, inUse);
    CHECK(screen.view().inputs.size() == 4);
    CHECK(screen.view().inputs[1].level == Decibels(-60.0));  // no bar flickers
    CHECK(screen.view().selected == 1);
    CHECK_FALSE(press(screen, {enter}).input);
    screen.levels({});  // unplugged
    screen.setDevices({{"ALSA: microphone", 1, true}}, inUse);
    CHECK(screen.view().inputs.size() == 2);
}

TEST_CASE("start: the input in use is found by a part of its name, as devices are") {
    StartScreen screen(halfUp());
    screen.setDevices({{"ALSA: two inputs", 2, true}, {"ALSA: loudspeakers", 0, false, 2}, {"ALSA: microphone", 1}},
                      {false, "micro", 1});
    CHECK(screen.view().inputs.size() == 4);  // what only plays is no input
    CHECK(screen.view().selected == 2);
    CHECK_FALSE(press(screen, {enter}).input);
}

TEST_CASE("start: inputs are metered while one is chosen, anew when another device appears") {
    StartScreen screen(halfUp());
    CHECK(screen.toMeter() == 0);
    screen.lookingForDevices();
    screen.setDevices({}, {});
    CHECK(screen.toMeter() == 0);
    screen.setDevices({{"ALSA: microphone", 1}}, {});
    const auto first = screen.toMeter();
    CHECK(first > 0);
    screen.setDevices({{"ALSA: microphone", 1}}, {});
    CHECK(screen.toMeter() == first);
    screen.setDevices({{"ALSA: microphone", 1}, {"ALSA: new", 1}}, {});
    CHECK(screen.toMeter() > first);
    screen.lookingForDevices();
    CHECK(screen.toMeter() == 0);  // two that look at once hide devices from each other
    screen.setDevices({{"ALSA: microphone", 1}, {"ALSA: new", 1}}, {});
    CHECK(screen.toMeter() > first);
    press(screen, {enter});
    CHECK(screen.toMeter() == 0);
}

TEST_CASE("start: enter alone leads through every step to the first drill") {
    StartScreen screen = withInputs();
    press(screen, {enter});
    CHECK(screen.view().step == StartStep::level);
    press(screen, {enter});
    CHECK(screen.view().step == StartStep::care);
    CHECK(press(screen, {enter}).cautionsSeen);
    CHECK(screen.view().step == StartStep::strings);
    CHECK(press(screen, {enter}).open == Screen::stringCheck);
    screen.stringsChecked();
    CHECK(screen.view().step == StartStep::firstDrill);
    CHECK(press(screen, {enter}).play);
}

TEST_CASE("start: backspace skips every step; skipped cautions count as not seen, a skipped input is not kept") {
    StartScreen screen = withInputs();
    CHECK_FALSE(press(screen, {down, backspace}).input);
    press(screen, {backspace});
    CHECK(screen.view().step == StartStep::care);
    CHECK_FALSE(press(screen, {backspace}).cautionsSeen);
    CHECK_FALSE(press(screen, {backspace}).open);
    CHECK(screen.view().step == StartStep::firstDrill);
    const Wish wish = press(screen, {backspace});
    CHECK_FALSE(wish.play);
    CHECK(wish.open == Screen::drills);
}

TEST_CASE("start: without an input, and with the simulated player, there is no level to set") {
    StartScreen none(halfUp());
    none.lookingForDevices();
    CHECK(none.view().looking);
    none.setDevices({}, {});
    CHECK_FALSE(none.view().looking);
    CHECK_FALSE(none.input());
    press(none, {enter});
    CHECK(none.view().step == StartStep::care);

    StartScreen simulated = withInputs();
    press(simulated, {down, down, down, enter});
    CHECK(simulated.input()->simulated);
    CHECK(simulated.view().step == StartStep::care);
    press(simulated, {left, left});
    CHECK(simulated.view().step == StartStep::device);
}

TEST_CASE("start: a device that is plugged in meanwhile joins the list and the mark stays where it was") {
    StartScreen screen = withInputs();
    press(screen, {down, down});
    screen.setDevices({{"ALSA: new", 1}, {"ALSA: two inputs", 2}, {"ALSA: microphone", 1}}, {});
    CHECK(screen.input()->device == "ALSA: microphone");
    CHECK(screen.view().selected == 2);
    CHECK(screen.view().inputs[3].name == "ALSA: new");  // nothing moves under the player's eyes
}

TEST_CASE("start: one step alone, opened from the settings, ends where it was opened") {
    StartScreen screen = withInputs();
    screen.show(StartStep::care);
    const Wish wish = press(screen, {enter});
    CHECK(wish.cautionsSeen);
    CHECK(wish.open == Screen::settings);
    screen.show(StartStep::device);
    CHECK_FALSE(press(screen, {enter}).open);
    CHECK(press(screen, {enter}).open == Screen::practice);
}

TEST_CASE("strings: each is asked for, read, and the check ends with a summary") {
    const Guitar guitar;
    StringsScreen screen(guitar);
    CHECK(screen.view().readings.size() == 6);
    CHECK(screen.view().readings[0].name == "high E string");
    while (!screen.done()) {
        const int string = screen.asked();
        play(screen, guitar, string, string == 3 && !screen.view().readings[2].offset ? -20.0 : 1.0);
        if (string == 3) CHECK(screen.view().message.find("G string") == 0);
    }
    CHECK(screen.view().asked == 0);
    CHECK(screen.view().readings[2].offset);
    CHECK_FALSE(screen.view().prompt.empty());
    CHECK(press(screen, {enter}).open);
}

TEST_CASE("strings: backspace leaves one string, enter leaves the check at any moment") {
    StringsScreen screen((Guitar()));
    const int asked = screen.asked();
    CHECK_FALSE(press(screen, {backspace}).open);
    CHECK(screen.view().readings[static_cast<std::size_t>(asked - 1)].skipped);
    CHECK(screen.asked() != asked);
    CHECK(press(screen, {enter}).open);
}

TEST_CASE("strings: a guitar a half step down is recognised and offered; enter takes it, backspace keeps the old one") {
    const Guitar standard;
    for (const bool accept : {true, false}) {
        CAPTURE(accept);
        StringsScreen screen(standard);
        for (int i = 0; i < 12 && screen.view().question.empty(); ++i) play(screen, standard, screen.asked(), -100.0);
        REQUIRE(screen.view().question.find("half step") != std::string::npos);
        CHECK(screen.view().prompt == "Half step down?");
        const Wish wish = press(screen, {accept ? enter : backspace});
        CHECK(wish.guitar.has_value() == accept);
        CHECK_FALSE(wish.open);
        CHECK(screen.view().question.empty());
        CHECK(tuningName(screen.guitar().openStrings) == (accept ? "half step down" : "standard"));
    }
}

TEST_CASE("strings: beginning anew forgets what was heard") {
    const Guitar guitar;
    StringsScreen screen(guitar);
    play(screen, guitar, screen.asked(), 2.0);
    screen.begin(guitar);
    for (const StringReading& reading : screen.view().readings) CHECK_FALSE(reading.offset);
}
