#include "src/formats/settings_file.h"

#include <sys/resource.h>
#include <sys/stat.h>

#include <csignal>
#include <cstdlib>

#include <fmt/core.h>

#include <doctest/doctest.h>

#include "tests/support/command.h"

using namespace landfall;

namespace {

LoadedSettings loadText(const TestFolder& folder, const std::string& text) {
    writeText(folder / "settings.toml", text);
    auto loaded = loadSettings(folder / "settings.toml");
    REQUIRE_MESSAGE(loaded, loaded.error().message);
    return *loaded;
}

Settings everythingChanged() {
    Settings s;
    s.student = "Noor \"the\" first\nof two ♭";
    s.guitar.name = "seven";
    s.guitar.openStrings = {MidiPitch(64), MidiPitch(59), MidiPitch(55), MidiPitch(50),
                            MidiPitch(45), MidiPitch(40), MidiPitch(35)};
    s.guitar.capo = 3;
    s.guitar.highestFret = 24;
    s.guitar.leftHanded = true;
    s.guitar.a4 = Hertz(442.5);
    s.guitar.gaugesInch = {0.0095, 0.012};
    s.guitar.plainStrings = 2;
    s.guitar.scaleMm = 673.1;
    s.guitar.radiusMm = 304.8;
    s.guitar.actionMm = 1.6;
    s.guitar.stiffness = {1.07e-5, 0.0, 1.08e-4};
    s.deviceName = "two inputs";
    s.simulated = true;
    s.channel = 2;
    s.outputName = "ALSA: loudspeakers";
    s.frames = 256;
    s.aim = Cents(18.0);
    s.target = Target::ownGuitar;
    s.feedback = Telling::afterSet;
    s.trace = Tracing::byEar;
    s.keepTakes = true;
    s.log = "/tmp/elsewhere.sqlite";
    s.soundLevel = Decibels(-12.5);
    s.targetNote = false;
    s.keys = {65, 267, 290, 263};
    s.textSize = 1.5;
    s.theme = Theme::dark;
    s.goOn = GoOn::mutedStrokes;
    s.todayMinutes = 35;
    s.results = Sounded::tones;
    s.windowWidth = 1920;
    s.windowHeight = 1080;
    s.fullScreen = true;
    s.cautionsSeen = "2027-03-01";
    return s;
}

void checkSame(const Settings& a, const Settings& b) {
    CHECK(a.student == b.student);
    CHECK(a.guitar.name == b.guitar.name);
    CHECK(a.guitar.openStrings == b.guitar.openStrings);
    CHECK(a.guitar.capo == b.guitar.capo);
    CHECK(a.guitar.highestFret == b.guitar.highestFret);
    CHECK(a.guitar.leftHanded == b.guitar.leftHanded);
    CHECK(a.guitar.a4 == b.guitar.a4);
    CHECK(a.guitar.gaugesInch == b.guitar.gaugesInch);
    CHECK(a.guitar.plainStrings == b.guitar.plainStrings);
    CHECK(a.guitar.scaleMm == b.guitar.scaleMm);
    CHECK(a.guitar.radiusMm == b.guitar.radiusMm);
    CHECK(a.guitar.actionMm == b.guitar.actionMm);
    CHECK(a.guitar.stiffness == b.guitar.stiffness);
    CHECK(a.deviceName == b.deviceName);
    CHECK(a.channel == b.channel);
    CHECK(a.outputName == b.outputName);
    CHECK(a.frames == b.frames);
    CHECK(a.aim == b.aim);
    CHECK(a.target == b.target);
    CHECK(a.feedback == b.feedback);
    CHECK(a.keepTakes == b.keepTakes);
    CHECK(a.log == b.log);
    CHECK(a.soundLevel == b.soundLevel);
    CHECK(a.simulated == b.simulated);
    CHECK(a.trace == b.trace);
    CHECK(a.targetNote == b.targetNote);
    CHECK(a.keys.again == b.keys.again);
    CHECK(a.keys.next == b.keys.next);
    CHECK(a.keys.discard == b.keys.discard);
    CHECK(a.keys.see == b.keys.see);
    CHECK(a.textSize == b.textSize);
    CHECK(a.theme == b.theme);
    CHECK(a.goOn == b.goOn);
    CHECK(a.todayMinutes == b.todayMinutes);
    CHECK(a.results == b.results);
    CHECK(a.windowWidth == b.windowWidth);
    CHECK(a.windowHeight == b.windowHeight);
    CHECK(a.fullScreen == b.fullScreen);
    CHECK(a.cautionsSeen == b.cautionsSeen);
}

}  // namespace

TEST_CASE("no file gives the defaults without a word") {
    const TestFolder folder;
    const auto loaded = loadSettings(folder / "settings.toml");
    REQUIRE(loaded);
    CHECK(loaded->warnings.empty());
    checkSame(loaded->settings, Settings{});
}

TEST_CASE("an empty file gives the defaults without a word") {
    const TestFolder folder;
    CHECK(loadText(folder, "").warnings.empty());
}

TEST_CASE("every setting is read back as it was saved, into a new file and into an old one") {
    const TestFolder folder;
    const auto file = folder / "settings.toml";
    for (int round = 0; round < 2; ++round) {
        REQUIRE(saveSettings(file, everythingChanged()));
        const auto loaded = loadSettings(file);
        REQUIRE(loaded);
        CHECK(loaded->warnings.empty());
        checkSame(loaded->settings, everythingChanged());
        REQUIRE(saveSettings(file, Settings{}));
        checkSame(loadSettings(file)->settings, Settings{});
    }
}

TEST_CASE("a bad value is named with file, line and what was expected, and the default stands in") {
    const TestFolder folder;
    const auto loaded = loadText(folder,
                                 "student = 5\n\n[guitar]\ncapo = 2\ntuning = \"X9\"\na4_hz = "
                                 "415\n[practice]\naim_cents = \"wide\"\ntarget = \"moon\"\n"
                                 "[window]\ntheme = true\n");
    const std::string file = (folder / "settings.toml").string();
    REQUIRE(loaded.warnings.size() == 6);
    CHECK(loaded.warnings[0] == file + ":1: student: expected text in quotes; the default is used");
    CHECK(loaded.warnings[1].find(file + ":5: tuning: expected \"standard\"") == 0);
    CHECK(loaded.warnings[2] == file + ":6: a4_hz: expected a number from 430 to 450; the default is used");
    CHECK(loaded.warnings[3] == file + ":8: aim_cents: expected a number from 3 to 100; the default is used");
    CHECK(loaded.warnings[4]
          == file + ":9: target: expected one of \"concert\", \"start note\", \"own guitar\", \"just\"; the default is used");
    CHECK(loaded.warnings[5].find(file + ":11: theme: expected one of") == 0);
    CHECK(loaded.settings.guitar.capo == 2);  // what is good is used
    CHECK(loaded.settings.aim == Cents(25.0));
}

TEST_CASE("stiffness that no string has is named in one line, and the strings count as not known") {
    const TestFolder folder;
    for (const char* bad : {"[1e-5, -1e-4]", "[0.5]", "[nan]", "[inf]", "\"stiff\"", "[1e-9]", "1e-4",
                            "[1e-4,1e-4,1e-4,1e-4,1e-4,1e-4,1e-4,1e-4,1e-4,1e-4]"}) {
        const auto loaded = loadText(folder, std::string("[guitar]\ncapo = 2\nstiffness = ") + bad + "\n");
        REQUIRE_MESSAGE(loaded.warnings.size() == 1, bad);
        CHECK(loaded.warnings[0].find(":3: stiffness: expected inharmonicities of the open strings")
              != std::string::npos);
        CHECK(loaded.warnings[0].find('\n') == std::string::npos);
        CHECK(loaded.settings.guitar.stiffness.empty());
        CHECK(loaded.settings.guitar.capo == 2);
    }
    CHECK(loadText(folder, "[guitar]\nstiffness = [1e-5, 0, 0.0001]\n").settings.guitar.stiffness
          == std::vector<double>{1e-5, 0.0, 1e-4});
}

TEST_CASE("values that do not fit together are named with their section") {
    const TestFolder folder;
    const auto loaded = loadText(folder, "\n[guitar]\ncapo = 18\nhighest_fret = 12\n");
    REQUIRE(loaded.warnings.size() == 1);
    CHECK(loaded.warnings[0].find(":2: [guitar]: a capo on fret 18") != std::string::npos);
    CHECK(loaded.settings.guitar.capo == 0);
}

TEST_CASE("keys that are not known are said in one line, and saving keeps them") {
    const TestFolder folder;
    auto loaded = loadText(
        folder,
        "colour = \"teal\"\nstudent = \"Ines\"\n[practice]\nspeed = [1, 2, {a = 1979-05-27}]\n[later]\nx = 1\n");
    REQUIRE(loaded.warnings.size() == 1);
    CHECK(loaded.warnings[0].find(":1: not known here, and left as it is: colour, later, practice.speed")
          != std::string::npos);
    loaded.settings.aim = Cents(12.0);
    REQUIRE(saveSettings(folder / "settings.toml", loaded.settings));
    const auto again = loadSettings(folder / "settings.toml");
    CHECK(again->settings.aim == Cents(12.0));
    CHECK(again->settings.student == "Ines");
    REQUIRE(again->warnings.size() == 1);
    CHECK(again->warnings[0].find("colour, later, practice.speed") != std::string::npos);
    CHECK(readText(folder / "settings.toml").find("1979-05-27") != std::string::npos);
}

TEST_CASE("a bad value stays in the file until that setting is changed") {
    const TestFolder folder;
    auto loaded = loadText(folder, "[practice]\naim_cents = \"as close as I can\"\n");
    loaded.settings.student = "Tobi";
    REQUIRE(saveSettings(folder / "settings.toml", loaded.settings));
    CHECK(readText(folder / "settings.toml").find("as close as I can") != std::string::npos);
    loaded.settings.aim = Cents(18.0);
    REQUIRE(saveSettings(folder / "settings.toml", loaded.settings));
    CHECK(loadSettings(folder / "settings.toml")->warnings.empty());
}

TEST_CASE("a key that stands where a section belongs is named, and gives way when the section is needed") {
    const TestFolder folder;
    auto loaded = loadText(folder, "guitar = 5\n");
    REQUIRE(loaded.warnings.size() == 1);
    CHECK(loaded.warnings[0].find(":1: guitar: expected a section, [guitar]") != std::string::npos);
    loaded.settings.guitar.capo = 2;
    REQUIRE(saveSettings(folder / "settings.toml", loaded.settings));
    CHECK(loadSettings(folder / "settings.toml")->settings.guitar.capo == 2);
}

TEST_CASE("a day may be written as TOML's own date") {
    const TestFolder folder;
    CHECK(loadText(folder, "cautions_seen = 2027-03-01\n").settings.cautionsSeen == "2027-03-01");
    CHECK(loadText(folder, "cautions_seen = \"2027-02-30\"\n").warnings.size() == 1);
}

TEST_CASE("a file that is no TOML is named with its line, and kept beside the new one") {
    const TestFolder folder;
    const std::string broken = "student = \"Ines\"\naim cents 25\n";
    const auto loaded = loadText(folder, broken);
    REQUIRE(loaded.warnings.size() == 1);
    CHECK(loaded.warnings[0].find((folder / "settings.toml").string() + ":2: not TOML") == 0);
    CHECK(loaded.warnings[0].find('\n') == std::string::npos);
    REQUIRE(saveSettings(folder / "settings.toml", Settings{}));
    CHECK(readText(folder / "settings.toml.unreadable") == broken);
    CHECK(loaded.broken);
    CHECK(loadText(folder, "another typo\n").broken);
    REQUIRE(saveSettings(folder / "settings.toml", Settings{}));
    CHECK(readText(folder / "settings.toml.unreadable") == broken);
    CHECK(readText(folder / "settings.toml.unreadable-2") == "another typo\n");
    CHECK(loadSettings(folder / "settings.toml")->warnings.empty());
}

TEST_CASE("a settings file that is a folder is named") {
    const TestFolder folder;
    std::filesystem::create_directory(folder / "settings.toml");
    const auto loaded = loadSettings(folder / "settings.toml");
    REQUIRE_FALSE(loaded);
    CHECK(loaded.error().message.find("cannot be read") != std::string::npos);
}

TEST_CASE("a name that is no UTF-8 does not spoil the file") {
    const TestFolder folder;
    const auto file = folder / "settings.toml";
    REQUIRE(saveSettings(file, everythingChanged()));
    for (const char* name : {"In\xC3", "\xFF", "N\xE9r\xE9\x80"}) {
        Settings settings = everythingChanged();
        settings.student = name;
        REQUIRE(saveSettings(file, settings));
        const auto loaded = loadSettings(file);  // the broken bytes are put right or left out; all else is as it was
        REQUIRE(loaded);
        CHECK(loaded->warnings.empty());
        settings.student = loaded->settings.student;
        checkSame(loaded->settings, settings);
    }
}

TEST_CASE("saving into a folder that is missing is named and leaves nothing behind") {
    const TestFolder folder;
    const auto saved = saveSettings(folder / "nowhere/settings.toml", Settings{});
    REQUIRE_FALSE(saved);
    CHECK(saved.error().message.find("nowhere/settings.toml cannot be written") != std::string::npos);
}

TEST_CASE("a full disk leaves the old settings as they were and no half file") {
    const TestFolder folder;
    Settings settings;
    settings.student = "Ines";
    REQUIRE(saveSettings(folder / "settings.toml", settings));
    const std::string before = readText(folder / "settings.toml");
    // A limit on the size of files stands in for the full disk: both make the write fail.
    rlimit old{};
    getrlimit(RLIMIT_FSIZE, &old);
    const auto handler = std::signal(SIGXFSZ, SIG_IGN);
    const rlimit none{10, old.rlim_max};
    setrlimit(RLIMIT_FSIZE, &none);
    settings.student = "Tobi";
    const auto saved = saveSettings(folder / "settings.toml", settings);
    setrlimit(RLIMIT_FSIZE, &old);
    std::signal(SIGXFSZ, handler);
    REQUIRE_FALSE(saved);
    CHECK(saved.error().message.find("settings.toml cannot be written") != std::string::npos);
    CHECK(std::distance(std::filesystem::directory_iterator(folder.path), {}) == 1);
    CHECK(readText(folder / "settings.toml") == before);
}

TEST_CASE("a link to the settings stays a link, and the file's permissions stay") {
    const TestFolder folder;
    REQUIRE(saveSettings(folder / "real.toml", Settings{}));
    chmod((folder / "real.toml").c_str(), 0600);
    std::filesystem::create_symlink(folder / "real.toml", folder / "settings.toml");
    Settings settings;
    settings.student = "Ines";
    REQUIRE(saveSettings(folder / "settings.toml", settings));
    CHECK(std::filesystem::is_symlink(folder / "settings.toml"));
    CHECK(loadSettings(folder / "real.toml")->settings.student == "Ines");
    struct stat now {};
    stat((folder / "real.toml").c_str(), &now);
    CHECK((now.st_mode & 0777) == 0600);
    CHECK(std::distance(std::filesystem::directory_iterator(folder.path), {}) == 2);  // no temporary file is left
}

TEST_CASE("Python's TOML reader agrees with what was written") {
    const TestFolder folder;
    REQUIRE(saveSettings(folder / "settings.toml", everythingChanged()));
    const auto ran =
        runCommand(fmt::format("python3 -c \"import tomllib; d = tomllib.load(open('{}', 'rb')); "
                               "print(d['guitar']['a4_hz'], d['guitar']['capo'], "
                               "d['practice']['target'], d['sound']['output'], d['guitar']['gauges_inch'], "
                               "d['practice']['keep_takes'])\" 2>&1",
                               (folder / "settings.toml").string()));
    CHECK(ran.output == "442.5 3 own guitar ALSA: loudspeakers [0.0095, 0.012] True\n");
}

TEST_CASE("the log is the one named, else the settings', else the data folder's") {
    const TestFolder folder;
    setenv("XDG_DATA_HOME", folder.path.c_str(), 1);
    Settings settings;
    CHECK(*chosenLogFile(settings, "") == folder / "landfall/log.sqlite");
    settings.log = "band.sqlite";
    CHECK(*chosenLogFile(settings, "") == folder / "landfall/band.sqlite");
    settings.log = "/srv/log.sqlite";
    CHECK(*chosenLogFile(settings, "") == "/srv/log.sqlite");
    CHECK(*chosenLogFile(settings, "mine.sqlite") == "mine.sqlite");
    unsetenv("XDG_DATA_HOME");
}

TEST_CASE("only what was changed is written: what the command line said for one sitting stays out of the file") {
    const TestFolder folder;
    writeText(folder / "settings.toml", "student = \"Ines\"\nodd = 1\n");
    Settings inUse = loadSettings(folder / "settings.toml")->settings;
    inUse.student = "Tobi";  // said on the command line
    Settings changed = inUse;
    changed.aim = Cents(12.0);
    REQUIRE(saveChanges(folder / "settings.toml", inUse, changed));
    const auto kept = loadSettings(folder / "settings.toml");
    CHECK(kept->settings.student == "Ines");
    CHECK(kept->settings.aim == Cents(12.0));
    CHECK(readText(folder / "settings.toml").find("odd = 1") != std::string::npos);

    REQUIRE(saveChanges(folder / "new.toml", inUse, changed));
    CHECK(loadSettings(folder / "new.toml")->settings.aim == Cents(12.0));
    CHECK(readText(folder / "new.toml").find("Tobi") == std::string::npos);
}

TEST_CASE("settings whose keys go ever deeper are one warning, and the defaults hold; a file of megabytes is named") {
    const TestFolder folder;
    std::string deep = "a";
    for (int i = 0; i < 100000; ++i) deep += ".a";
    for (const std::string& text : {deep + " = 1\n", "[" + deep + "]\n", "a = " + std::string(100000, '[') + "\n"}) {
        const LoadedSettings loaded = loadText(folder, "student = \"Ines\"\n" + text);
        REQUIRE(loaded.warnings.size() == 1);
        CHECK(loaded.warnings[0].find((folder / "settings.toml").string() + ":2: not TOML (") == 0);
        CHECK(loaded.warnings[0].size() < 200);
        CHECK(loaded.broken);
        REQUIRE(saveSettings(folder / "settings.toml", Settings{}));  // kept beside the new one
    }
    writeText(folder / "settings.toml", "# " + std::string(1 << 21, 'x') + "\n");
    const auto loaded = loadSettings(folder / "settings.toml");
    REQUIRE_FALSE(loaded);
    CHECK(loaded.error().message.find("have 2097155 bytes, more than settings ever need") != std::string::npos);
}
