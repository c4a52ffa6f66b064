// The trainer's desks without its thread and without a device: time is the sound handed in.
#include <doctest/doctest.h>

#include <array>
#include <cstdlib>
#include <deque>
#include <utility>
#include <vector>

#include "src/app/input_desk.h"
#include "src/app/practice_desk.h"
#include "src/app/sitting_keeper.h"
#include "src/formats/drill_file.h"
#include "src/store/log.h"
#include "src/system/machine.h"
#include "tests/support/command.h"
#include "tests/support/string_sound.h"
#include "tests/support/students.h"

using namespace landfall;

namespace {

// A device that tells what it is told to, and gives silence.
struct ScriptedSource : SoundSource {
    std::deque<DeviceReport> reports;
    std::optional<SoundOutput> plays{48000.0};
    double sampleRate() const override { return 48000.0; }
    Heard read(std::span<float> block) override {
        std::fill(block.begin(), block.end(), 0.0f);
        return {block.size(), 0, false};
    }
    std::optional<DeviceReport> report() override {
        if (reports.empty()) return std::nullopt;
        const auto next = reports.front();
        reports.pop_front();
        return next;
    }
    SoundOutput* output() override { return plays ? &*plays : nullptr; }
};

SourceOpener opensSimulated() {
    return [](const SourceWish& wish) -> Result<std::unique_ptr<SoundSource>> {
        return std::unique_ptr<SoundSource>(std::make_unique<SimulatedSource>(
            SimulatedPlayer::Config{.seed = wish.seed, .skill = exactPlayer()}, false));
    };
}

DeviceFinder finds(std::vector<SoundDevice> devices) {
    return [devices = std::move(devices)] { return Result<std::vector<SoundDevice>>(devices); };
}

std::vector<Trouble> troubles(const InputDesk& desk) {
    std::vector<Trouble> all;
    for (const Notice& each : desk.notices()) all.push_back(each.trouble);
    return all;
}

// Sittings in a folder of their own.
struct Home {
    TestFolder folder;
    Settings settings;
    Home() {
        ::setenv("XDG_CONFIG_HOME", (folder / "config").c_str(), 1);
        ::setenv("XDG_DATA_HOME", (folder / "data").c_str(), 1);
        settings.cautionsSeen = "2027-03-01";
        settings.student = "Tobi";
    }
};

// All the desks, run as the trainer runs them.
struct Desks : Home {
    SittingKeeper sittings{settings, {}};
    InputDesk input{settings, SourceWish{.input = "simulated", .seed = 3}, opensSimulated()};
    PracticeDesk practice;
    double heard = 0.0;  // s

    explicit Desks(const std::string& drill)
        : practice({.drill = findDrill(drill).value(),
                    .after = [](const std::string&) { return findDrill("Whole up").value(); }},
                   settings, input, sittings) {
        REQUIRE(sittings.begin(input.inUse()));
        REQUIRE(input.open());
    }
    void run(bool open = true) {
        std::array<float, 512> block{};
        const auto given = input.read(block);
        practice.hear(std::span(block).first(given.samples), given.missing, open);
        practice.lead();
        heard += static_cast<double>(given.samples) / input.sampleRate();
    }
    // Warm-up and rests are left out.
    template <typename Condition>
    bool runUntil(Condition condition) {
        for (const double end = heard + 600.0; heard < end;) {
            run();
            const Practice shown = practice.practice();
            if (condition(shown)) return true;
            if (shown.moment == Moment::warmUp || shown.moment == Moment::rest) practice.act(Intent::Kind::next);
        }
        return false;
    }
};

}  // namespace

TEST_CASE("what the command line leaves open is as the settings say; what it says is in use") {
    Settings settings;
    SourceWish asked{.input = {}, .channel = 0};
    const SoundDevice card{.label = "ALSA: card", .inputs = 2}, hall{.label = "ALSA: hall", .inputs = 0, .outputs = 2};

    CHECK(InputDesk::settle(asked, settings, finds({hall, card})).empty());
    CHECK(asked.kind() == SourceKind::device);
    CHECK_FALSE(settings.simulated);

    asked.input.clear();
    CHECK(InputDesk::settle(asked, settings, finds({hall}))
          == "No sound input here: the simulated student Ines plays.");
    CHECK(asked.kind() == SourceKind::simulated);
    CHECK(settings.simulated);

    // A device that is named may be plugged in any moment.
    settings.simulated = false;
    settings.deviceName = "JACK: named";
    asked.input.clear();
    CHECK(InputDesk::settle(asked, settings, finds({})).empty());
    CHECK(asked.kind() == SourceKind::device);

    asked = {.input = "device", .device = "ALSA: card", .channel = 2};
    CHECK(InputDesk::settle(asked, settings, finds({})).empty());
    CHECK(settings.deviceName == "ALSA: card");
    CHECK(settings.channel == 2);
}

TEST_CASE("the input's level is the loudest of fifteen seconds, in steps of three decibels") {
    const Settings settings;
    InputDesk desk(settings, {.input = "simulated"}, opensSimulated());
    CHECK(desk.shown().level == Decibels(-140.0));
    desk.hear(InputLevel{Seconds(0.1), Decibels(-10.5), Decibels(-20.0)});
    CHECK(desk.shown().level == Decibels(-9.0));
    for (int tenth = 0; tenth < 149; ++tenth) desk.hear(InputLevel{Seconds(0.2), Decibels(-50.0), Decibels(-60.0)});
    CHECK(desk.shown().level == Decibels(-9.0));
    desk.hear(InputLevel{Seconds(15.2), Decibels(-50.0), Decibels(-60.0)});
    CHECK(desk.shown().level == Decibels(-48.0));
    CHECK(desk.shown().device == "Simulated player Ines");
}

TEST_CASE(
    "a device that goes is told, an output that goes only where target notes are wanted, an input that cannot be "
    "opened with its reason") {
    Settings settings;
    ScriptedSource* device = nullptr;
    bool refuses = false;
    InputDesk desk(settings, {.input = "device", .channel = 1},
                   [&](const SourceWish&) -> Result<std::unique_ptr<SoundSource>> {
                       if (refuses) return Error{Error::Code::notFound, "ALSA: hall: there is no such device"};
                       auto made = std::make_unique<ScriptedSource>();
                       device = made.get();
                       return std::unique_ptr<SoundSource>(std::move(made));
                   });
    REQUIRE(desk.open());
    CHECK_FALSE(desk.hearReports());
    CHECK(desk.notices().empty());
    device->reports = {{DeviceReport::Kind::noOutput, "the output ended"}};
    CHECK(desk.hearReports());
    CHECK(troubles(desk) == std::vector{Trouble::noOutput});
    settings.targetNote = false;
    CHECK(troubles(desk).empty());
    device->reports = {{DeviceReport::Kind::lost, "Line in is gone: plug it in again"}};
    CHECK(desk.hearReports());
    CHECK(troubles(desk) == std::vector{Trouble::deviceLost});
    CHECK(desk.notices().front().detail == "Line in is gone: plug it in again");

    refuses = true;
    settings.deviceName = "ALSA: hall";
    CHECK_FALSE(desk.change());
    REQUIRE(desk.notices().size() == 1);
    CHECK(desk.notices().front().detail == "ALSA: hall: there is no such device");
    CHECK(desk.sampleRate() == 0.0);
}

TEST_CASE("a recording's end is told once") {
    const Settings settings;
    ScriptedSource* device = nullptr;
    InputDesk desk(settings, {.input = "device", .channel = 1},
                   [&](const SourceWish&) -> Result<std::unique_ptr<SoundSource>> {
                       auto made = std::make_unique<ScriptedSource>();
                       device = made.get();
                       return std::unique_ptr<SoundSource>(std::move(made));
                   });
    REQUIRE(desk.open());
    CHECK_FALSE(desk.recordingOver());
    CHECK(desk.play(std::make_shared<const std::vector<float>>(480, 0.5f), 48000.0));
    CHECK_FALSE(desk.recordingOver());
    std::array<float, 512> block{};
    device->plays->render(block);
    CHECK(desk.recordingOver());
    CHECK_FALSE(desk.recordingOver());

    CHECK(desk.play(std::make_shared<const std::vector<float>>(48000, 0.5f), 48000.0));
    desk.endRecording();
    CHECK(desk.recordingOver());
    // An output that goes away ends it, too, and then there is none.
    CHECK(desk.play(std::make_shared<const std::vector<float>>(48000, 0.5f), 48000.0));
    device->plays.reset();
    CHECK(desk.recordingOver());
    CHECK_FALSE(desk.play(std::make_shared<const std::vector<float>>(48000, 0.5f), 48000.0));
    CHECK_FALSE(desk.play(Hertz(440.0), Seconds(1.0)));
}

TEST_CASE(
    "a drill is led to its summary, every try in the log, and the next one begins with what the hands have done") {
    Desks desks("Half up");
    REQUIRE(desks.runUntil([](const Practice& shown) { return shown.moment == Moment::endOfDrill; }));
    CHECK(desks.practice.practice().summary.starts_with("Usually"));
    const auto version = desks.practice.version();
    desks.practice.act(Intent::Kind::next);
    CHECK(desks.practice.practice().drill == "Whole up");
    CHECK(desks.practice.version() > version);
    CHECK(desks.sittings.load.played > Seconds(30.0));
    desks.practice.leave();
    CHECK(desks.sittings.end({}) == 0);
    CHECK_FALSE(std::filesystem::exists(dataFolder().value() / "log.sqlite"));  // the player's
    auto log = Log::open(desks.sittings.log().state().log, Log::Access::read);
    REQUIRE(log);
    CHECK(log->sittings("Ines").value().size() == 1);
    CHECK(log->tries(1).value().size() >= 18);  // three places, six tries each
}

TEST_CASE("while another screen is open the drill waits where it was, however long that is") {
    Desks desks("Half up");
    REQUIRE(desks.runUntil([](const Practice& shown) { return shown.scatter.size() == 2; }));
    while (desks.practice.practice().moment != Moment::waiting && desks.practice.practice().moment != Moment::between)
        desks.run();
    const std::string progress = desks.practice.practice().progress;
    desks.run(false);
    const auto version = desks.practice.version();
    for (const double end = desks.heard + 60.0; desks.heard < end;) desks.run(false);
    CHECK(desks.practice.version() == version);
    CHECK(desks.practice.practice().progress == progress);
    CHECK(desks.runUntil([](const Practice& shown) { return shown.scatter.size() == 3; }));
}

namespace {

// A card on which the simulated student plays; it can be unplugged, and then gives nothing until it is back.
struct PluggedSource : SimulatedSource {
    bool* plugged;
    bool told = true;
    std::uint64_t missed = 0;
    explicit PluggedSource(bool* state)
        : SimulatedSource(SimulatedPlayer::Config{.seed = 3, .skill = exactPlayer()}, false), plugged(state) {}
    Heard read(std::span<float> block) override {
        if (!*plugged) {
            missed += block.size();
            return {0, 0, false};
        }
        Heard heard = SimulatedSource::read(block);
        heard.missing = std::exchange(missed, 0);
        return heard;
    }
    std::optional<DeviceReport> report() override {
        if (*plugged == told) return std::nullopt;
        told = *plugged;
        return DeviceReport{told ? DeviceReport::Kind::backAgain : DeviceReport::Kind::lost, "Line in is gone."};
    }
};

}  // namespace

TEST_CASE("a device that is unplugged costs nothing: no try, no place in the set, no second of a rest") {
    Home home;
    bool plugged = true;
    SittingKeeper sittings(home.settings, {});
    InputDesk input(home.settings, SourceWish{.input = "device"},
                    [&](const SourceWish&) -> Result<std::unique_ptr<SoundSource>> {
                        return std::unique_ptr<SoundSource>(std::make_unique<PluggedSource>(&plugged));
                    });
    PracticeDesk practice({.drill = findDrill("Half up").value(),
                           .after = [](const std::string&) { return findDrill("Whole up").value(); }},
                          home.settings, input, sittings);
    REQUIRE(sittings.begin(input.inUse()));
    REQUIRE(input.open());
    const auto run = [&] {
        std::array<float, 512> block{};
        input.hearReports();
        const auto given = input.read(block);
        practice.hear(std::span(block).first(given.samples), given.missing, true);
        practice.lead();
    };
    const auto runUntil = [&](auto condition) {
        for (int i = 0; i < 60 * 94 && !condition(practice.practice()); ++i) run();
        return condition(practice.practice());
    };
    const auto away = [&](int blocks) {
        plugged = false;
        for (int i = 0; i < blocks; ++i) run();
        plugged = true;
    };
    REQUIRE(runUntil([](const Practice& shown) { return shown.scatter.size() == 2; }));
    REQUIRE(runUntil([](const Practice& shown) { return shown.moment == Moment::playing; }));
    for (int i = 0; i < 40; ++i) run();  // 0.4 s into the third
    const std::string progress = practice.practice().progress;
    away(600);
    run();
    CHECK(practice.practice().scatter.size() == 2);
    REQUIRE(runUntil([](const Practice& shown) { return shown.moment == Moment::waiting; }));
    CHECK(practice.practice().progress == progress);
    CHECK(sittings.log().state().tries == 2);

    REQUIRE(runUntil([](const Practice& shown) { return shown.moment == Moment::rest; }));
    const Seconds left = practice.practice().restLeft;
    away(1000);  // ten seconds and more
    for (int i = 0; i < 10; ++i) run();
    // half a second of it is heard, then a tenth, in steps of a quarter
    CHECK((left - practice.practice().restLeft).value <= 1.25);
}

TEST_CASE("a fret that was held stays known in the next drill, and on another guitar it is not") {
    Desks desks("Half up");
    desks.settings.target = Target::ownGuitar;
    REQUIRE(desks.sittings.begin(desks.input.inUse()));
    REQUIRE(desks.runUntil([](const Practice& shown) { return shown.moment == Moment::waiting; }));
    const std::string lacking = desks.practice.targetRemark();
    REQUIRE(lacking.starts_with("Hold fret "));
    const Practice shown = desks.practice.practice();
    REQUIRE(shown.neck.place);
    const int target = shown.neck.place->fret + 1;
    const MidiPitch open = desks.settings.guitar.openStrings[static_cast<std::size_t>(shown.neck.place->string - 1)];
    auto held = stringSound({.seconds = 2.0, .silence = 0.5, .noise = 1e-4},
                            frequencyOf(MidiPitch(open.value + target), standardA4).value);
    held.resize(held.size() + 48000);
    desks.practice.hear(held, 0, true);
    CHECK(desks.practice.targetRemark().empty());

    desks.practice.askAgain();
    REQUIRE(desks.runUntil([](const Practice& now) { return now.moment == Moment::waiting; }));
    CHECK(desks.practice.targetRemark().empty());
    desks.practice.leave();
    desks.settings.guitar.a4 = Hertz(442.0);
    desks.practice.askAgain();
    REQUIRE(desks.runUntil([](const Practice& now) { return now.moment == Moment::waiting; }));
    CHECK(desks.practice.targetRemark() == lacking);
}

TEST_CASE("a drill is not begun before its screen is open, nor without a sound") {
    Desks desks("Half up");
    for (int block = 0; block < 10; ++block) desks.run(false);
    CHECK(desks.practice.practice().drill.empty());
    desks.run();
    CHECK(desks.practice.practice().drill == "Half up");
}

TEST_CASE("a sitting ends an hour after its last try, and the hands begin anew") {
    Home home;
    const SourceWish device{.input = "device"};
    SittingKeeper keeper(home.settings, {});
    REQUIRE(keeper.begin(device));
    const auto first = keeper.now().sittingToken();
    const CalendarTime now = calendarNow();
    keeper.tried(now);
    keeper.load.demanding = 12;
    keeper.beginAfterPause(device, now + std::chrono::minutes(60));
    CHECK(keeper.now().sittingToken() == first);
    CHECK(keeper.load.demanding == 12);
    keeper.beginAfterPause(device, now + std::chrono::minutes(61));
    CHECK(keeper.now().sittingToken() != first);
    CHECK(keeper.load.demanding == 0);
}

TEST_CASE(
    "another input is another sitting of the same hands; another student's hands begin anew, and the settings win over "
    "the command line") {
    Home home;
    SittingKeeper keeper(home.settings, {.student = "Noor"});
    REQUIRE(keeper.begin({.input = "device"}));
    CHECK(keeper.now().settings().student == "Noor");
    keeper.load.demanding = 12;
    REQUIRE(keeper.begin({.input = "simulated"}));
    CHECK(keeper.now().settings().student == "Noor");
    CHECK(keeper.load.demanding == 12);
    const Settings before = home.settings;
    home.settings.student = "Ines";
    keeper.beginFor(before, {.input = "device"});
    CHECK(keeper.now().settings().student == "Ines");
    CHECK(keeper.load.demanding == 0);
}

TEST_CASE("a sitting that cannot begin leaves the one before, and says why") {
    Home home;
    SittingKeeper keeper(home.settings, {});
    REQUIRE(keeper.begin({.input = "device"}));
    const auto token = keeper.now().sittingToken();
    home.settings.log.clear();
    ::setenv("XDG_DATA_HOME", "/dev/null/no folder", 1);
    CHECK_FALSE(keeper.begin({.input = "device"}));
    CHECK(keeper.now().sittingToken() == token);
    CHECK(keeper.trouble().find("XDG_DATA_HOME") != std::string::npos);
}

namespace {

// By the first and the last of its upward passages through zero, one a period.
double frequencyOf(std::span<const float> tone) {
    std::vector<double> passages;
    for (std::size_t i = 1; i < tone.size(); ++i)
        if (tone[i - 1] < 0.0f && tone[i] >= 0.0f)
            passages.push_back(static_cast<double>(i) - static_cast<double>(tone[i]) / (tone[i] - tone[i - 1]));
    return 48000.0 * static_cast<double>(passages.size() - 1) / (passages.back() - passages.front());
}

// The simulated student, heard through a device that has an output.
struct OutputSource : SimulatedSource {
    std::optional<SoundOutput> plays{48000.0};
    using SimulatedSource::SimulatedSource;
    SoundOutput* output() override { return &*plays; }
};

}  // namespace

TEST_CASE("a result sounds as two tones, the target and what was played, once it may be known; by ear none does") {
    Home home;
    home.settings.results = Sounded::tones;
    SittingKeeper sittings(home.settings, {});
    InputDesk input(home.settings, SourceWish{.input = "simulated", .seed = 3},
                    [](const SourceWish& wish) -> Result<std::unique_ptr<SoundSource>> {
                        return std::unique_ptr<SoundSource>(std::make_unique<OutputSource>(
                            SimulatedPlayer::Config{.seed = wish.seed, .skill = ines()}, false));
                    });
    PracticeDesk practice({.drill = findDrill("Half up").value(),
                           .after = [](const std::string&) { return findDrill("Whole up").value(); }},
                          home.settings, input, sittings);
    REQUIRE(sittings.begin(input.inUse()));
    REQUIRE(input.open());
    auto& source = dynamic_cast<OutputSource&>(input.source());
    int told = 0, silent = 0;
    for (double heard = 0.0; heard < 900.0 && practice.practice().moment != Moment::endOfDrill;) {
        std::array<float, 512> block{};
        const auto given = input.read(block);
        const int before = sittings.log().state().tries;
        practice.hear(std::span(block).first(given.samples), given.missing, true);
        const bool byEar = practice.practice().feedback == Feedback::byEar;
        const int after = sittings.log().state().tries;
        practice.lead();
        heard += static_cast<double>(given.samples) / 48000.0;
        if (practice.practice().moment == Moment::rest || practice.practice().moment == Moment::warmUp)
            practice.act(Intent::Kind::next);
        if (after == before) continue;
        const bool sounds = source.plays->playsRecording();
        if (byEar) {
            CHECK_FALSE(sounds);
            ++silent;
            continue;
        }
        if (!sounds) continue;  // a try that died has no pitch to sound
        ++told;
        std::vector<float> pair(57600);
        source.plays->render(pair);
        // B string, fret 8 and so on, a half step up; and what the mark says beside it.
        const Practice shown = practice.practice();
        REQUIRE(shown.last.size() == 1);
        REQUIRE(shown.last.front().firstStop);
        const auto pitch = [&](std::size_t from) { return frequencyOf(std::span(pair).subspan(from, 14400)); };
        const double apart = 1200.0 * std::log2(pitch(31200) / pitch(2400));
        CHECK(std::abs(apart - shown.last.front().firstStop->value) < 1.0);
    }
    CHECK(told > 8);
    CHECK(silent > 4);
}
