#include "src/app/trainer.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <map>
#include <mutex>
#include <optional>
#include <set>
#include <thread>
#include <utility>
#include <vector>

#include <fmt/core.h>

#include "gui/words.h"
#include "src/app/screens/progress_screen.h"
#include "src/app/sitting.h"
#include "src/audio/simulated_player.h"
#include "src/formats/settings_file.h"
#include "src/practice/verdict.h"
#include "src/store/log.h"
#include "src/store/totals.h"
#include "tests/support/command.h"
#include "tests/support/program.h"
#include "tests/support/students.h"

using namespace landfall;

namespace {

// Settings and log in a folder of their own.
struct Home {
    TestFolder folder;
    Home() {
        ::setenv("XDG_CONFIG_HOME", (folder / "config").c_str(), 1);
        ::setenv("XDG_DATA_HOME", (folder / "data").c_str(), 1);
        Settings settings;
        settings.cautionsSeen = "2027-03-01";
        REQUIRE(saveSettings(settingsFile().value(), settings));
    }
    TrainerConfig simulated(double pace) const {
        TrainerConfig config;
        config.source.input = "simulated";
        config.source.seed = 3;
        config.source.pace = pace;
        config.sitting.student = "Ines";
        config.sitting.log = (folder / "log.sqlite").string();
        // not this machine's
        config.findDevices = [] { return Result<std::vector<SoundDevice>>(std::vector<SoundDevice>{}); };
        return config;
    }
};

// Where temporary files go while it lives.
struct TemporaryFiles {
    std::optional<std::string> before;
    explicit TemporaryFiles(const std::filesystem::path& folder) {
        std::filesystem::create_directory(folder);
        if (const char* set = std::getenv("TMPDIR")) before = set;
        ::setenv("TMPDIR", folder.c_str(), 1);
    }
    ~TemporaryFiles() {
        if (before) ::setenv("TMPDIR", before->c_str(), 1);
        else ::unsetenv("TMPDIR");
    }
    TemporaryFiles(const TemporaryFiles&) = delete;
    TemporaryFiles& operator=(const TemporaryFiles&) = delete;
};

// As an audio ring gives its samples, only shorter: what is not fetched within half a second is lost.
class RingSource : public SoundSource {
public:
    explicit RingSource(std::atomic<std::uint64_t>& lostSamples) : lost(lostSamples) {}
    double sampleRate() const override { return 48000.0; }
    Heard read(std::span<float> block) override {
        const double now = std::chrono::duration<double>(std::chrono::steady_clock::now() - began).count();
        const auto due = static_cast<std::uint64_t>(now * 48000.0) - given;
        std::uint64_t missing = 0;
        if (due > capacity) missing = due - capacity;
        lost += missing;
        const auto samples = static_cast<std::size_t>(std::min<std::uint64_t>(block.size(), due - missing));
        std::fill_n(block.begin(), samples, 0.001f);
        given += samples + missing;
        return {samples, missing, false};
    }

private:
    static constexpr std::uint64_t capacity = 24000;
    std::atomic<std::uint64_t>& lost;
    std::uint64_t given = 0;
    std::chrono::steady_clock::time_point began = std::chrono::steady_clock::now();
};

// A student on whose B string every pitch is 15 cents sharp until `tuned`; then it plays once although nothing is asked.
class SlippedSource : public SoundSource, public AskedPlayer {
public:
    explicit SlippedSource(std::atomic<bool>& stringTuned) : tuned(stringTuned) {}
    double sampleRate() const override { return 48000.0; }
    Heard read(std::span<float> block) override {
        sounding().read(block);
        test::pauseFor(0.0003);
        return {block.size(), 0, false};
    }
    AskedPlayer* player() override { return this; }
    void askedString(int) override {}
    void asked(const DrillState& state) override {
        if (state.moves.empty() || sounding().queued().value > 0.005) return;
        if (state.phase != (tuned ? DrillPhase::stringSlipped : DrillPhase::asking)) return;
        sounding().rest(Seconds(0.9));
        sounding().play(state.moves);
        sounding().rest(Seconds(0.9));
    }

private:
    SimulatedPlayer& sounding() { return tuned ? right : sharp; }
    std::atomic<bool>& tuned;
    SimulatedPlayer sharp{{.skill = exactPlayer(), .stringOffsets = {Cents(0.0), Cents(15.0)}}},
        right{{.skill = exactPlayer()}};
};

}  // namespace

TEST_CASE("the simulated student plays a whole drill to its summary, and what the screen said is in the log") {
    Home home;
    auto started = Trainer::start(home.simulated(20.0));
    REQUIRE(started);
    Trainer& trainer = **started;
    std::set<std::string> said;  // as each mark stood when the next stroke took it away
    std::string sentence;
    Practice last;
    bool rested = false;
    std::size_t seen = 0;  // sentences
    CHECK(test::within(180.0, [&] {
        const auto shown = trainer.snapshot();
        last = shown->practice;
        const bool marked = last.moment == Moment::landed && !last.last.empty();
        if (marked && sentence.empty() && !last.sentence.empty()) {
            // A kill half a second from now would lose nothing that the player has read: a slow disk holds no word back.
            ++seen;
            CHECK(test::within(0.5, [&] {
                const auto log = Log::open(home.folder / "log.sqlite", Log::Access::read)->tries(1).value();
                return log.size() >= seen && std::ranges::any_of(log, [&](const LoggedTry& row) {
                           return wordsOf(row.landing).rest == last.sentence;
                       });
            }));
        }
        if (marked) sentence = last.sentence;
        else if (!sentence.empty()) said.insert(std::exchange(sentence, {}));
        const bool waits = last.moment == Moment::warmUp || last.moment == Moment::rest;
        if (waits && !rested) trainer.act({Intent::Kind::next, Screen::practice, 0});
        rested = waits;
        return last.moment == Moment::endOfDrill;
    }));
    CHECK(last.summary.starts_with("Usually"));
    CHECK_FALSE(last.sentence.empty());
    const auto shown = trainer.snapshot();
    REQUIRE(shown->notices.size() == 1);
    CHECK(shown->notices[0].trouble == Trouble::simulated);
    CHECK(trainer.end() == 0);

    auto log = Log::open(home.folder / "log.sqlite", Log::Access::read);
    REQUIRE(log);
    const auto tries = log->tries(1);
    REQUIRE(tries);
    CHECK(tries->size() >= 18);  // three places, six tries each; those not counted are asked for again
    int guided = 0;
    std::set<std::string> written;
    for (const LoggedTry& row : *tries) {
        guided += row.guided ? 1 : 0;
        written.insert(wordsOf(row.landing).rest);
    }
    CHECK(guided == 3);
    // The same figures at the drill's end, in the log and in progress.
    const auto gestures = tallyOf(*tries).gestures();
    const Words words = wordsOf(gestures, Cents(25.0));
    CHECK(last.summary == words.headline);
    CHECK(last.sentence.starts_with(words.rest + " "));
    const auto read = readProgress(home.folder / "log.sqlite", "Ines");
    REQUIRE(read);
    CHECK(read->totals == gestures);
    ProgressScreen progress;
    progress.setLog(*read);
    CHECK(progress.view().sittings[0].result
          == fmt::format("bends {} of {} inside", gestures[0].inside, gestures[0].counted));
    const auto listed =
        runCommand(fmt::format("'{}' log --csv --log '{}'", LANDFALL_PROGRAM, (home.folder / "log.sqlite").string()));
    CHECK(listed.output.find(fmt::format(",bend,{},3,{},", gestures[0].tries, gestures[0].counted))
          != std::string::npos);
    CHECK(said.size() >= 5);
    for (const std::string& each : said) {
        CAPTURE(each);
        CHECK(written.contains(each));
    }
}

TEST_CASE(
    "a drill of two steps under one stroke: the screen has the marks and the words of both, as the log has them") {
    Home home;
    TrainerConfig config = home.simulated(5.0);
    config.drill = "Up and home";
    auto started = Trainer::start(config);
    REQUIRE(started);
    Trainer& trainer = **started;
    Practice last;
    bool rested = false;
    CHECK(test::within(180.0, [&] {
        last = trainer.snapshot()->practice;
        const bool waits = last.moment == Moment::warmUp || last.moment == Moment::rest;
        if (waits && !rested) trainer.act({Intent::Kind::next, Screen::practice, 0});
        rested = waits;
        return !last.traces.empty() && last.traces.back().marks.size() == 2 && last.last.size() == 1
               && last.sentence.find(" The bend before it: ") != std::string::npos;
    }));
    CHECK(last.steps.size() == 2);
    CHECK(last.last.front().step == 1);  // the drill is about the release
    const Trace& trace = last.traces.back();
    REQUIRE(trace.marks.size() == 2);
    CHECK(trainer.end() == 0);

    auto log = Log::open(home.folder / "log.sqlite", Log::Access::read);
    REQUIRE(log);
    const auto tries = log->tries(1);
    REQUIRE(tries);
    std::size_t at = 0;
    const auto wordsAt = [&](std::size_t i) {
        return wordsOf(std::vector{(*tries)[i].landing, (*tries)[i + 1].landing}, Cents(25.0), Subject::release);
    };
    while (at + 1 < tries->size()
           && ((*tries)[at + 1].landing.move.gesture != Gesture::release || wordsAt(at).rest != last.sentence))
        ++at;
    REQUIRE(at + 1 < tries->size());
    const Landing &bend = (*tries)[at].landing, &release = (*tries)[at + 1].landing;
    CHECK(release.move.gesture == Gesture::release);
    CHECK(last.landed == wordsAt(at).headline);
    // The trace holds where the log says, each step at its own target: 0.1 s to 0.3 s after the arrival. The eye's pitch and the score's
    // may differ by a few cents on a moving hand.
    for (const auto& [landing, mark] : {std::pair(bend, trace.marks[0]), std::pair(release, trace.marks[1])}) {
        CAPTURE(landing.moveNumber);
        REQUIRE(mark.arrival);
        REQUIRE(landing.landingError);
        std::vector<double> held;
        for (const TracePoint& point : trace.points)
            if (point.fromTarget && point.sinceStroke > *mark.arrival + Seconds(0.1)
                && point.sinceStroke < *mark.arrival + Seconds(0.3))
                held.push_back(point.fromTarget->value);
        REQUIRE_FALSE(held.empty());
        std::nth_element(held.begin(), held.begin() + static_cast<std::ptrdiff_t>(held.size() / 2), held.end());
        CHECK(std::abs(held[held.size() / 2] - last.steps[static_cast<std::size_t>(mark.step)].target.value
                       - landing.landingError->value)
              < 6.0);
    }
}

TEST_CASE("a window that stalls for two seconds loses no sample") {
    Home home;
    std::atomic<std::uint64_t> lost{0};
    TrainerConfig config = home.simulated(1.0);
    config.open = [&](const SourceWish&) {
        return Result<std::unique_ptr<SoundSource>>(std::make_unique<RingSource>(lost));
    };
    auto started = Trainer::start(config);
    REQUIRE(started);
    const auto held = (*started)->snapshot();  // the window holds what it draws
    for (int i = 0; i < 1000; ++i) (*started)->act({Intent::Kind::again, Screen::practice, 0});
    std::this_thread::sleep_for(std::chrono::seconds(2));
    CHECK(lost == 0);
    CHECK((*started)->snapshot() != nullptr);
    CHECK((*started)->snapshot()->practice.drill == "Half up");
    CHECK((*started)->end() == 0);
}

TEST_CASE(
    "where nothing can be heard the window says so before the simulated student plays; where there is an input, it is "
    "opened") {
    Home home;
    TrainerConfig config = home.simulated(10.0);
    config.source.input.clear();
    std::string opened;
    config.open = [&](const SourceWish& wish) {
        opened = wish.input;
        return openSource(SourceWish{.input = "simulated", .seed = 3, .pace = 10.0});
    };
    // The notice on the practice screen, behind the page that explains.
    const auto noticed = [&](const std::string& trouble) {
        auto started = Trainer::start(config);
        REQUIRE(started);
        Trainer& trainer = **started;
        REQUIRE(test::within(20.0, [&] { return !trainer.snapshot()->start.looking; }));
        auto shown = trainer.snapshot();
        CHECK(shown->screen == Screen::start);
        CHECK(shown->start.step == StartStep::device);
        CHECK(shown->start.inputs.empty());
        CHECK(shown->start.trouble == trouble);
        CHECK(shown->notices.empty());
        test::pauseFor(0.5);
        CHECK(trainer.snapshot()->practice.drill.empty());  // nobody plays
        trainer.act({Intent::Kind::choose, Screen::start, 0});
        CHECK(test::within(20.0, [&] {
            shown = trainer.snapshot();
            return shown->screen == Screen::practice && !shown->notices.empty();
        }));
        CHECK(trainer.end() == 0);
        return shown->notices.empty() ? Notice{} : shown->notices.front();
    };
    config.findDevices = [] {
        return Result<std::vector<SoundDevice>>(
            std::vector<SoundDevice>{{.label = "ALSA: hall", .inputs = 0, .outputs = 2}});
    };
    CHECK(noticed("").detail.starts_with("No sound input here: the simulated student "));
    CHECK(opened == "simulated");
    config.findDevices = [] {
        return Result<std::vector<SoundDevice>>(Error{Error::Code::notFound, "the sound system does not answer"});
    };
    CHECK(noticed("the sound system does not answer")
              .detail.starts_with("the sound system does not answer: the simulated student "));
    CHECK(opened == "simulated");
    config.findDevices = [] {
        return Result<std::vector<SoundDevice>>(std::vector<SoundDevice>{{.label = "ALSA: hall", .inputs = 1}});
    };
    auto started = Trainer::start(config);
    REQUIRE(started);
    CHECK((*started)->snapshot()->screen == Screen::practice);
    CHECK((*started)->snapshot()->notices.empty());
    CHECK((*started)->end() == 0);
    CHECK(opened == "device");
}

TEST_CASE("what the simulated student plays is in progress while the window is open, and never in the player's log") {
    Home home;
    const TemporaryFiles temporary(home.folder / "temporary");
    TrainerConfig config = home.simulated(20.0);
    config.sitting = {};  // neither a log nor a student is named
    auto started = Trainer::start(config);
    REQUIRE(started);
    Trainer& trainer = **started;
    REQUIRE(test::within(60.0, [&] { return !trainer.snapshot()->practice.scatter.empty(); }));
    trainer.act({Intent::Kind::open, Screen::progress, 0});
    CHECK(test::within(20.0, [&] { return trainer.snapshot()->progress.overview.has_value(); }));
    CHECK_FALSE(std::filesystem::is_empty(home.folder / "temporary"));
    CHECK(trainer.end() == 0);
    started->reset();
    CHECK(std::filesystem::is_empty(home.folder / "temporary"));
    CHECK_FALSE(std::filesystem::exists(home.folder / "data/landfall/log.sqlite"));
}

TEST_CASE("a setting that is not understood is called that, and no trouble of the log") {
    Home home;
    writeText(settingsFile().value(), "[window]\ntext_size = 9\n");
    TrainerConfig config = home.simulated(1.0);
    auto started = Trainer::start(config);
    REQUIRE(started);
    const auto shown = (*started)->snapshot();
    CHECK((*started)->end() == 0);
    REQUIRE_FALSE(shown->notices.empty());
    CHECK(shown->notices.front().trouble == Trouble::settingsOdd);
    CHECK(shown->notices.front().detail.find("settings.toml") != std::string::npos);
}

TEST_CASE("a drill that does not exist is named before a window opens") {
    Home home;
    TrainerConfig config = home.simulated(1.0);
    config.drill = "Half upp";
    const auto started = Trainer::start(config);
    REQUIRE_FALSE(started);
    CHECK(started.error().message.find("Half up") != std::string::npos);
}

TEST_CASE("a struck try is struck in the log, and quitting ends the trainer") {
    Home home;
    auto started = Trainer::start(home.simulated(1.0));  // the next stroke is not there when the key is pressed
    REQUIRE(started);
    Trainer& trainer = **started;
    REQUIRE(test::within(60.0, [&] { return !trainer.snapshot()->practice.scatter.empty(); }));
    trainer.act({Intent::Kind::discard, Screen::practice, 0});
    REQUIRE(test::within(20.0, [&] { return trainer.snapshot()->practice.sentence.starts_with("Dropped"); }));
    trainer.act({Intent::Kind::quit, Screen::practice, 0});
    CHECK(trainer.snapshot() == nullptr);
    CHECK(trainer.end() == 0);
    auto log = Log::open(home.folder / "log.sqlite", Log::Access::read);
    REQUIRE(log);
    const auto tries = log->tries(1);
    REQUIRE(tries);
    CHECK(std::count_if(tries->begin(), tries->end(), [](const LoggedTry& row) { return row.struck; }) == 1);
}

TEST_CASE("at the first start the cautions come before the drill, which begins when the player says so") {
    Home home;
    std::filesystem::remove(settingsFile().value());
    auto started = Trainer::start(home.simulated(20.0));
    REQUIRE(started);
    Trainer& trainer = **started;
    CHECK(trainer.snapshot()->screen == Screen::start);
    test::pauseFor(0.5);
    CHECK(trainer.snapshot()->practice.drill.empty());
    // Input, cautions, strings skipped, the first drill.
    REQUIRE(test::within(20.0, [&] { return !trainer.snapshot()->start.looking; }));
    for (const auto kind : {Intent::Kind::choose, Intent::Kind::choose, Intent::Kind::decline, Intent::Kind::choose}) {
        trainer.act({kind, Screen::start, 0});
        test::pauseFor(0.2);
    }
    CHECK(test::within(20.0, [&] {
        return trainer.snapshot()->screen == Screen::practice && trainer.snapshot()->practice.moment == Moment::landed;
    }));
    CHECK(trainer.end() == 0);
    CHECK_FALSE(loadSettings(settingsFile().value())->settings.cautionsSeen.empty());
}

TEST_CASE("another screen lets the drill wait, and the drill chosen there is played") {
    Home home;
    auto started = Trainer::start(home.simulated(20.0));
    REQUIRE(started);
    Trainer& trainer = **started;
    REQUIRE(test::within(20.0, [&] { return trainer.snapshot()->practice.scatter.size() == 1; }));
    trainer.act({Intent::Kind::open, Screen::drills, 0});
    REQUIRE(test::within(5.0, [&] { return trainer.snapshot()->screen == Screen::drills; }));
    test::pauseFor(0.3);
    const std::string waits = trainer.snapshot()->practice.progress;
    test::pauseFor(1.0);  // twenty seconds of the student's time
    CHECK(trainer.snapshot()->practice.progress == waits);
    trainer.act({Intent::Kind::following, Screen::drills, 0});
    trainer.act({Intent::Kind::choose, Screen::drills, 0});
    CHECK(test::within(20.0, [&] {
        const auto shown = trainer.snapshot();
        return shown->screen == Screen::practice && shown->practice.drill != "Half up"
               && !shown->practice.scatter.empty();
    }));
    CHECK(trainer.end() == 0);
}

// A device told what to do: present, gone, back; without its output.
struct Plug {
    std::atomic<bool> there{true}, silent{false};
};
class PluggedSource : public SoundSource {
public:
    explicit PluggedSource(Plug& given) : plug(given), student({.sampleRate = 48000.0, .seed = 5}, true, 10.0) {}
    double sampleRate() const override { return 48000.0; }
    Heard read(std::span<float> block) override {
        if (!was) {
            // What was played meanwhile was played for nobody.
            std::array<float, 512> lost{};
            away += student.read(lost).samples;
            return {};
        }
        Heard heard = student.read(block);
        heard.missing = std::exchange(away, 0);
        return heard;
    }
    AskedPlayer* player() override { return &student; }
    std::optional<DeviceReport> report() override {
        if (plug.silent && !std::exchange(silenceTold, true))
            return DeviceReport{DeviceReport::Kind::noOutput, "Headphones: the output ended"};
        const bool now = plug.there;
        if (now == was) return std::nullopt;
        was = now;
        return now ? DeviceReport{DeviceReport::Kind::backAgain, "Line in is back"}
                   : DeviceReport{DeviceReport::Kind::lost, "Line in is gone: plug it in again"};
    }

private:
    Plug& plug;
    SimulatedSource student;
    std::uint64_t away = 0;
    bool was = true, silenceTold = false;
};

TrainerConfig plugged(const Home& home, Plug& plug) {
    TrainerConfig config = home.simulated(1.0);
    config.source.input = "device";
    config.open = [&plug](const SourceWish&) {
        return Result<std::unique_ptr<SoundSource>>(std::make_unique<PluggedSource>(plug));
    };
    return config;
}

// Goes through the settings' rows, down to this one.
bool toRow(Trainer& trainer, const std::string& label) {
    const auto marked = [&]() -> SettingRow {
        const auto shown = trainer.snapshot();
        const auto& list = shown->settings;
        return shown->screen != Screen::settings || list.rows.empty()
                   ? SettingRow{}
                   : list.rows[static_cast<std::size_t>(list.selected)];
    };
    const auto selected = [&] { return marked().label; };
    trainer.act({Intent::Kind::open, Screen::settings, 0});
    test::within(60.0, [&] { return !selected().empty(); });
    for (int i = 0; i < 40 && selected() != label; ++i) {
        const std::string before = selected();
        if (marked().kind == SettingRow::Kind::group) trainer.act({Intent::Kind::choose, Screen::settings, 0});
        trainer.act({Intent::Kind::following, Screen::settings, 0});
        test::within(60.0, [&] { return selected() != before; });
    }
    return selected() == label;
}

TEST_CASE("a student whose first sitting in the log is more than thirty days old is past the first month") {
    Home home;
    const auto file = home.folder / "log.sqlite";
    {
        auto log = Log::open(file, Log::Access::write);
        REQUIRE(log);
        Sitting first;
        first.student = "Ines";
        first.started = calendarNow() - std::chrono::days(31);
        REQUIRE(log->put(first, {}));
        first.student = "Tobi";
        first.started = calendarNow() - std::chrono::days(29);
        first.token = Sitting::newToken();
        REQUIRE(log->put(first, {}));
    }
    const auto inFirstMonth = [&](const std::string& student, const std::filesystem::path& log) {
        SittingWish wish;
        wish.student = student;
        wish.log = log.string();
        return RunningSitting::begin(wish, {}).value()->plan({}, {}, false, 48000.0).session.runner.firstMonth;
    };
    CHECK_FALSE(inFirstMonth("Ines", file));
    CHECK(inFirstMonth("Tobi", file));
    CHECK(inFirstMonth("Noor", file));
    CHECK(inFirstMonth("Ines", home.folder / "other.sqlite"));
}

TEST_CASE(
    "the aim changed while a string has slipped: what is played on leaves the drill's log alone, and the drill begins "
    "again") {
    Home home;
    std::atomic<bool> tuned = false;
    TrainerConfig config = home.simulated(1.0);
    config.source.input = "device";
    config.open = [&](const SourceWish&) -> Result<std::unique_ptr<SoundSource>> {
        return std::unique_ptr<SoundSource>(std::make_unique<SlippedSource>(tuned));
    };
    auto started = Trainer::start(config);
    REQUIRE(started);
    Trainer& trainer = **started;
    REQUIRE(test::within(120.0, [&] {
        const auto shown = trainer.snapshot();
        return std::any_of(shown->notices.begin(), shown->notices.end(),
                           [](const Notice& each) { return each.trouble == Trouble::stringSlipped; });
    }));
    const auto rows = [&] { return trainer.snapshot()->settings.rows; };
    const auto aim = [&]() -> std::string {
        for (const auto& row : rows())
            if (row.label == "aim") return row.value;
        return "";
    };
    REQUIRE(toRow(trainer, "aim"));
    const std::string before = aim();
    trainer.act({Intent::Kind::more, Screen::settings, 0});
    REQUIRE(test::within(10.0, [&] { return aim() != before; }));
    tuned = true;
    test::pauseFor(3.0);  // ten seconds of sound
    CHECK(trainer.snapshot()->notices.empty());
    trainer.act({Intent::Kind::open, Screen::practice, 0});
    CHECK(test::within(10.0, [&] { return trainer.snapshot()->practice.moment == Moment::waiting; }));
    CHECK(trainer.end() == 0);
}

TEST_CASE("a device that goes away and comes back is said, and the drill goes on where it was") {
    Home home;
    Plug plug;
    auto started = Trainer::start(plugged(home, plug));
    REQUIRE(started);
    Trainer& trainer = **started;
    const auto first = [&] {
        const auto shown = trainer.snapshot();
        return shown->notices.empty() ? std::optional<Notice>{} : shown->notices.front();
    };
    REQUIRE(test::within(30.0, [&] { return trainer.snapshot()->practice.scatter.size() == 2; }));
    plug.there = false;
    REQUIRE(test::within(5.0, [&] { return first() && first()->trouble == Trouble::deviceLost; }));
    CHECK(first()->detail == "Line in is gone: plug it in again");
    test::pauseFor(0.5);
    plug.there = true;
    CHECK(test::within(5.0, [&] { return first() && first()->trouble == Trouble::deviceBack; }));
    CHECK(test::within(30.0, [&] { return trainer.snapshot()->practice.scatter.size() >= 4; }));
    CHECK(trainer.snapshot()->practice.drill == "Half up");
    CHECK(trainer.end() == 0);
}

TEST_CASE("an output that is gone is said for as long as target notes are wanted, and the drill goes on") {
    Home home;
    Settings settings;
    settings.cautionsSeen = "2027-03-01";
    REQUIRE(saveSettings(settingsFile().value(), settings));
    Plug plug;
    auto started = Trainer::start(plugged(home, plug));
    REQUIRE(started);
    Trainer& trainer = **started;
    const auto said = [&] {
        const auto shown = trainer.snapshot();
        return std::any_of(shown->notices.begin(), shown->notices.end(),
                           [](const Notice& each) { return each.trouble == Trouble::noOutput; });
    };
    REQUIRE(test::within(30.0, [&] { return trainer.snapshot()->practice.scatter.size() == 1; }));
    CHECK_FALSE(said());
    plug.silent = true;
    CHECK(test::within(5.0, said));
    CHECK(test::within(30.0, [&] { return trainer.snapshot()->practice.scatter.size() >= 3; }));
    CHECK(said());
    REQUIRE(toRow(trainer, "target note"));
    trainer.act({Intent::Kind::more, Screen::settings, 0});
    CHECK(test::within(5.0, [&] { return !said(); }));
    CHECK(trainer.end() == 0);
}

TEST_CASE(
    "another output leaves the input that the command line named in use, and neither the device nor its channel goes "
    "into the file") {
    Home home;
    Settings settings;
    settings.cautionsSeen = "2027-03-01";
    settings.outputName = "ALSA: away";
    REQUIRE(saveSettings(settingsFile().value(), settings));
    Plug plug;
    TrainerConfig config = plugged(home, plug);
    config.source.device = "JACK: named";
    config.source.channel = 2;
    std::mutex mutex;
    std::vector<SourceWish> wishes;
    config.open = [&](const SourceWish& wish) {
        const std::lock_guard lock(mutex);
        wishes.push_back(wish);
        return Result<std::unique_ptr<SoundSource>>(std::make_unique<PluggedSource>(plug));
    };
    auto started = Trainer::start(config);
    REQUIRE(started);
    Trainer& trainer = **started;
    REQUIRE(toRow(trainer, "output"));
    trainer.act({Intent::Kind::more, Screen::settings, 0});
    const auto opened = [&] {
        const std::lock_guard lock(mutex);
        return wishes.size();
    };
    REQUIRE(test::within(5.0, [&] { return opened() == 2; }));
    CHECK(trainer.end() == 0);
    REQUIRE(wishes.size() == 2);
    CHECK(wishes[0].output == "ALSA: away");
    CHECK(wishes[1].output.empty());
    CHECK(wishes[1].device == "JACK: named");
    CHECK(wishes[1].channel == 2);
    const auto kept = loadSettings(settingsFile().value());
    REQUIRE(kept);
    CHECK(kept->settings.outputName.empty());
    CHECK(kept->settings.deviceName.empty());
    CHECK(kept->settings.channel == 1);
}

TEST_CASE("a log that cannot be written is said while practising goes on") {
    Home home;
    const TemporaryFiles in(home.folder / "spare");
    TrainerConfig config = home.simulated(10.0);
    config.sitting.log = (home.folder / "no such folder" / "log.sqlite").string();
    auto started = Trainer::start(config);
    REQUIRE(started);
    Trainer& trainer = **started;
    CHECK(test::within(60.0, [&] {
        const auto shown = trainer.snapshot();
        const bool said = std::any_of(shown->notices.begin(), shown->notices.end(),
                                      [](const Notice& notice) { return notice.trouble == Trouble::logTrouble; });
        return said && shown->practice.scatter.size() >= 3;
    }));
    CHECK(trainer.end() == 1);  // and they are saved elsewhere
    std::vector<std::filesystem::path> saved;
    for (const auto& entry : std::filesystem::directory_iterator(home.folder / "spare"))
        if (entry.path().extension() == ".sqlite") saved.push_back(entry.path());
    REQUIRE(saved.size() == 1);
    auto log = Log::open(saved.front(), Log::Access::read);
    REQUIRE(log);
    CHECK(log->tries(1)->size() >= 3);
}

TEST_CASE("the string check hears the simulated student's open strings") {
    Home home;
    auto started = Trainer::start(home.simulated(20.0));
    REQUIRE(started);
    Trainer& trainer = **started;
    trainer.act({Intent::Kind::open, Screen::stringCheck, 0});
    CHECK(test::within(180.0, [&] {  // a sanitizer on a busy machine hears far slower than the student plays
        const auto shown = trainer.snapshot();
        return shown->screen == Screen::stringCheck && shown->strings.asked == 0 && shown->strings.readings.size() == 6;
    }));
    CHECK(trainer.end() == 0);
}

TEST_CASE("whoever waits for news is told of every new snapshot, and of the end") {
    Home home;
    std::atomic<int> rung{0};
    TrainerConfig config = home.simulated(10.0);
    config.published = [&] { ++rung; };
    auto started = Trainer::start(config);
    REQUIRE(started);
    Trainer& trainer = **started;
    const auto first = trainer.snapshot();
    CHECK(rung > 0);  // the first is there when the trainer is
    CHECK(test::within(20.0, [&] { return rung > 5; }));
    CHECK(trainer.snapshot() != first);
    trainer.act({Intent::Kind::quit, Screen::practice, 0});
    CHECK(trainer.snapshot() == nullptr);
    const int before = rung;
    trainer.end();
    CHECK(rung >= before);
    CHECK(rung > 6);
}
