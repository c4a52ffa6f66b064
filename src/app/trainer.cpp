#include "src/app/trainer.h"

#include <algorithm>
#include <array>
#include <atomic>
#include <chrono>
#include <deque>
#include <mutex>
#include <optional>
#include <thread>
#include <utility>
#include <vector>

#include <fmt/core.h>

#include "src/app/going_on.h"
#include "src/app/line_desk.h"
#include "src/app/practice_desk.h"
#include "src/app/screens/screens.h"
#include "src/app/sitting_keeper.h"
#include "src/app/today_run.h"
#include "src/formats/drill_file.h"
#include "src/formats/phrase_file.h"

namespace landfall {

namespace {

using Clock = std::chrono::steady_clock;
double seconds(Clock::time_point now) { return std::chrono::duration<double>(now.time_since_epoch()).count(); }

constexpr auto publishEvery = std::chrono::milliseconds(8);  // at most: two snapshots a frame are enough
constexpr auto lookEvery = std::chrono::milliseconds(100);   // at the level, the troubles and the log
// What is said of a try waits until the log has it, but not longer than a player would notice.
constexpr auto diskWaitedFor = std::chrono::milliseconds(250);

}  // namespace

struct Trainer::State {
    State(const TrainerConfig& given, const Drill& drill, const SourceWish& source,
          const std::filesystem::path& settingsFile, const std::filesystem::path& drillsFolder,
          const std::filesystem::path& phrasesFolder, const Settings& inUse);

    // The analysis thread's. The screens own the settings, the desks look at them there.
    Screens screens;
    SittingKeeper sittings;
    InputDesk input;
    PracticeDesk practice;
    LineDesk lines;                 // in its place while a line is asked
    std::optional<TodayRun> today;  // while it lasts
    enum class TodayStep { strings, part, reading } todayStep = TodayStep::strings;
    bool partTold = false;  // what the part that is over came to
    Seconds soundSoFar;     // Today's clock
    Snapshot draft;
    GoingOn goingOn;
    std::string settingsWarning;  // what of the file is not understood
    unsigned long screensShown = 0, practiceShown = 0, linesShown = 0;
    bool changed = true;  // something else of the draft
    Clock::time_point looked{}, publishedAt{};
    std::optional<Clock::time_point> unwrittenSince;  // a try that is not in the log yet

    // Shared.
    std::function<void()> published;
    mutable std::mutex mutex;
    std::shared_ptr<const Snapshot> latest;
    std::deque<Intent> intents;
    std::atomic<bool> ending{false};
    std::thread thread;

    void run();
    void takeIntents();
    void handle(const Intent& intent);
    void carryOut(const Wish& asked, const Settings& before);
    void newSettings(const Settings& before);
    void newInput();
    void play(const LessonTask& task, bool withEnd);
    void beginToday();
    void followToday();
    bool partBegan() const { return lines.asked() || !practice.waits(); }
    bool partIsOver() const { return lines.asked() ? lines.over() : practice.over(); }
    void tellPart();
    void hear();
    void lead();
    void look();
    bool waitsForDisk();
    void publish();
    std::vector<Notice> notices();
};

Trainer::State::State(const TrainerConfig& given, const Drill& drill, const SourceWish& source,
                      const std::filesystem::path& settingsFile, const std::filesystem::path& drillsFolder,
                      const std::filesystem::path& phrasesFolder, const Settings& inUse)
    : screens({.settingsFile = settingsFile,
               .drillsFolder = drillsFolder,
               .log = [this] { return sittings.log().state().log; },
               .findDevices = source.kind() == SourceKind::file ? DeviceFinder{} : given.findDevices,
               .student = [this] { return sittings.now().settings().student; },
               .phrasesFolder = phrasesFolder,
               .ownLog =
                   [this, named = given.sitting.log] {
                       const auto file = chosenLogFile(screens.settings(), named);
                       return file ? *file : sittings.log().state().log;
                   }},
              inUse),
      sittings(screens.settings(), given.sitting), input(screens.settings(), source, given.open),
      practice({.drill = drill,
                .heavy = given.heavy,
                .keepTakes = given.keepTakes,
                .after = [this](const std::string& name) { return screens.drillAfter(name).drill; }},
               screens.settings(), input, sittings),
      lines(screens.settings(), input, sittings), published(given.published) {}

Result<std::unique_ptr<Trainer>> Trainer::start(TrainerConfig config) {
    const auto drill = findDrill(config.drill);
    if (!drill) return drill.error();
    const auto file = settingsFile();
    if (!file) return file.error();
    auto loaded = loadSettings(*file);
    if (!loaded) return loaded.error();
    const auto ownFolder = ownDrillsFolder();
    if (!ownFolder) return ownFolder.error();
    const auto phrases = ownPhrasesFolder();
    if (!phrases) return phrases.error();
    if (config.sitting.aim > 0.0) loaded->settings.aim = Cents(config.sitting.aim);
    std::string fallback = InputDesk::settle(config.source, loaded->settings, config.findDevices);
    auto state = std::make_unique<State>(config, *drill, config.source, *file, *ownFolder, *phrases, loaded->settings);
    // Nobody plays before the window has said why, and the player has seen it.
    if (!fallback.empty()) state->screens.act({Intent::Kind::open, Screen::start, 0});
    state->input.fellBack(std::move(fallback));
    if (auto begun = state->sittings.begin(config.source); !begun) return begun.error();
    if (auto opened = state->input.open(); !opened) return opened.error();
    if (!loaded->warnings.empty()) state->settingsWarning = loaded->warnings.front();
    if (!config.lesson.empty()) state->screens.act({Intent::Kind::dropped, Screen::today, 0, config.lesson});
    state->look();
    state->publish();
    auto trainer = std::unique_ptr<Trainer>(new Trainer(std::move(state)));
    trainer->state->thread = std::thread([running = trainer->state.get()] { running->run(); });
    return trainer;
}

Trainer::Trainer(std::unique_ptr<State> made) : state(std::move(made)) {}

Trainer::~Trainer() {
    state->ending = true;
    if (state->thread.joinable()) state->thread.join();
}

std::shared_ptr<const Snapshot> Trainer::snapshot() const {
    const std::lock_guard lock(state->mutex);
    return state->ending ? nullptr : state->latest;
}

void Trainer::act(const Intent& intent) {
    if (intent.kind == Intent::Kind::quit) state->ending = true;
    const std::lock_guard lock(state->mutex);
    state->intents.push_back(intent);
}

int Trainer::end() {
    state->ending = true;
    if (state->thread.joinable()) state->thread.join();
    state->takeIntents();  // the window's size, told as it closed
    state->screens.end();
    state->practice.leave();  // its takes are written first
    state->lines.leave();
    return state->sittings.end(state->practice.stiffnessKnown());
}

void Trainer::State::run() {
    while (!ending) {
        if (toldToEnd()) ending = true;
        takeIntents();
        screens.poll();
        followToday();
        hear();
        lead();
        look();
        if (changed || screens.version() != screensShown || practice.version() != practiceShown
            || lines.version() != linesShown)
            publish();
    }
    if (published) published();  // that it ends
}

void Trainer::State::takeIntents() {
    std::deque<Intent> fresh;
    {
        const std::lock_guard lock(mutex);
        fresh.swap(intents);
    }
    for (const Intent& intent : fresh) {
        if (intent.kind != Intent::Kind::resized) goingOn.touched();
        handle(intent);
    }
}

void Trainer::State::handle(const Intent& intent) {
    using Kind = Intent::Kind;
    const bool practises = intent.kind <= Kind::guessOver;
    if (intent.kind == Kind::today) return beginToday();
    if (intent.kind == Kind::next && today && screens.screen() == Screen::practice) {
        if (partIsOver()) todayStep = TodayStep::reading;
        if (todayStep == TodayStep::reading || !partBegan()) return;  // twice does no more
    }
    if (screens.screen() == Screen::practice && practises)
        return lines.asked() ? lines.act(intent.kind) : practice.act(intent.kind);
    if (intent.kind == Kind::quit || (ending && intent.kind != Kind::resized)) return;
    const Settings before = screens.settings();
    carryOut(screens.act(intent), before);
}

void Trainer::State::carryOut(const Wish& asked, const Settings& before) {
    if (asked.newSettings && !asked.newInput) newSettings(before);
    if (asked.newInput) newInput();
    if (asked.newStudent) {
        practice.clear();
        practice.askAgain();
        lines.leave();
        lines.askAgain();
        sittings.beginFor(before, input.inUse());
    }
    const bool runs = input.sampleRate() > 0.0;
    if (asked.testTone && !input.play(Hertz(440.0), Seconds(1.0)) && runs) screens.noSoundOutput();
    if (asked.silence) input.endRecording();
    if (asked.sound && !input.play({asked.sound, &asked.sound->samples}, asked.sound->sampleRate))
        screens.noSoundOutput();
    if (asked.strike && asked.strike->token == sittings.now().sittingToken()) {
        if (asked.strike->struck) sittings.log().strike(asked.strike->number);
        else sittings.log().restore(asked.strike->number);
    }
    if (asked.newStudent || asked.play || asked.phrase || asked.task) today.reset();  // the player may always choose
    if (asked.task) play(*asked.task, false);
    if (asked.today) beginToday();
    if (asked.play) {
        lines.clear();
        practice.ask(asked.play->drill, asked.play->heavyAsked);
    }
    if (asked.phrase) {
        practice.leave();
        practice.askAgain();
        lines.ask(*asked.phrase);
    }
}

void Trainer::State::play(const LessonTask& task, bool withEnd) {
    if (const auto* drill = std::get_if<Drill>(&task.what)) {
        lines.clear();
        practice.ask(*drill, false, task.aim);
        return;
    }
    practice.leave();
    practice.askAgain();
    lines.ask(std::get<Line>(task.what), {task.tempo, task.aim, withEnd ? task.tries : 0});
}

void Trainer::State::beginToday() {
    today.emplace(Seconds(60.0 * screens.settings().todayMinutes), soundSoFar);
    todayStep = TodayStep::strings;
    practice.leave();
    lines.clear();
    screens.readToday();
    screens.open(Screen::stringCheck);
}

// What a part came to. What could not be played leaves nothing to look at: Today goes on by itself.
void Trainer::State::tellPart() {
    if (std::exchange(partTold, true)) return;
    if (lines.asked()) {
        today->played(lines.stones()->line,
                      fmt::format("{} {}", lines.passes(), lines.passes() == 1 ? "pass" : "passes"), 0, 0);
    } else if (const PracticeDesk::End end = practice.end(); !end.why.empty()) {
        today->leftOut(end.drill, end.why);
        todayStep = TodayStep::reading;
    } else {
        int counted = 0, good = 0;
        for (const GestureTally& each : end.summary.gestures) {
            counted += each.counted;
            good += each.inside;
        }
        today->played(end.drill, end.summary.words.headline, counted, good);
    }
    screens.readToday();
}

void Trainer::State::followToday() {
    if (!today) return;
    const bool open = screens.screen() == Screen::practice;
    if (todayStep == TodayStep::strings && open) todayStep = TodayStep::reading;
    if (todayStep == TodayStep::part && partIsOver()) tellPart();
    if (todayStep != TodayStep::reading || !open || screens.readsToday()) return;
    const ReadToday& read = screens.todayRead();
    if (const auto next = today->next(read.homework, read.whatNext, read.phrase, soundSoFar)) {
        todayStep = TodayStep::part;
        partTold = false;
        changed = true;
        return play(*next, true);
    }
    std::vector<TodayRow> rows;
    for (const TodayRun::Part& part : today->parts()) rows.push_back({part.name, "", part.words, false});
    screens.todayEnded(std::move(rows), today->toKeep());
    today.reset();
}

void Trainer::State::newSettings(const Settings& before) {
    const Settings& now = screens.settings();
    practice.followSettings();
    if (now.aim == before.aim && now.target == before.target && now.guitar == before.guitar) return;
    practice.leave();
    practice.askAgain();  // once practice is open
    lines.leave();
    lines.askAgain();
    static_cast<void>(sittings.begin(input.inUse()));
}

// Another input, chosen at the start or in the settings. What cannot be opened leaves the screen saying so.
void Trainer::State::newInput() {
    const bool wasSimulated = input.kind() == SourceKind::simulated;
    practice.clear();
    practice.askAgain();
    lines.leave();
    lines.askAgain();
    const bool opened = input.change();
    changed = true;
    if (opened && wasSimulated != screens.settings().simulated) static_cast<void>(sittings.begin(input.inUse()));
}

void Trainer::State::hear() {
    if (input.hearReports()) looked = {};
    std::array<float, 512> block{};
    const bool wasOver = input.over();
    const auto heard = input.read(block);
    const auto samples = std::span(block).first(heard.samples);
    if (input.sampleRate() > 0.0)
        soundSoFar = soundSoFar + Seconds(static_cast<double>(heard.samples + heard.missing) / input.sampleRate());
    const bool open = screens.screen() == Screen::practice;
    if (lines.asked()) lines.hear(samples, heard.missing, open);
    else practice.hear(samples, heard.missing, open);
    screens.hear(samples, input.sampleRate());  // quantised by now
    if (!input.over() || wasOver) return;
    if (lines.asked()) lines.finish();
    else practice.finish();
}

void Trainer::State::lead() {
    AskedPlayer* player = input.source().player();
    if (const int string = screens.askedString(); string > 0 && player != nullptr) player->askedString(string);
    if (input.recordingOver()) screens.soundOver();
    if (lines.asked()) lines.lead();
    else practice.lead();
}

std::vector<Notice> Trainer::State::notices() {
    std::vector<Notice> all = screens.choosesInput() ? std::vector<Notice>{} : input.notices();
    if (const std::string slipped = practice.slipped(); !slipped.empty())
        all.push_back({Trouble::stringSlipped, slipped});
    if (const std::string remark = practice.targetRemark(); !remark.empty())
        all.push_back({Trouble::targetUnheard, remark});
    if (const std::string unheard = practice.speechTrouble(); !unheard.empty())
        all.push_back({Trouble::noSpeech, unheard});
    for (const std::string& said : {sittings.log().state().problem, practice.takeTrouble(), sittings.trouble()})
        if (!said.empty()) {
            all.push_back({Trouble::logTrouble, said});
            break;
        }
    if (!settingsWarning.empty()) all.push_back({Trouble::settingsOdd, settingsWarning});
    std::stable_sort(all.begin(), all.end(), [](const Notice& a, const Notice& b) { return a.trouble < b.trouble; });
    return all;
}

void Trainer::State::look() {
    const auto now = Clock::now();
    if (now - looked < lookEvery) return;
    looked = now;
    input.wait();
    screens.logged(sittings.log().state().safe);
    const unsigned long toMeter = screens.toMeter();
    if (const auto levels = input.meter(toMeter); toMeter > 0) screens.levels(levels);
    // by what was published last, so that nothing goes on that was not seen
    const GoOn how = screens.settings().goOn;
    if (const auto asked = goingOn.look(draft, how, input.mutedPairs(), Seconds(seconds(now)))) handle(*asked);
    auto fresh = notices();
    const Input shown = input.shown();
    if (fresh == draft.notices && shown == draft.input) return;
    draft.notices = std::move(fresh);
    draft.input = shown;
    changed = true;
}

// A player who has read something of a try finds it in the log, even if the program is killed right then. Of a log that
// cannot be written that is said instead.
bool Trainer::State::waitsForDisk() {
    const StoreWriter::State log = sittings.log().state();
    if (log.safe >= log.tries || !log.problem.empty()) {
        unwrittenSince.reset();
        return false;
    }
    const auto now = Clock::now();
    if (!unwrittenSince) unwrittenSince = now;
    return now - *unwrittenSince < diskWaitedFor;
}

void Trainer::State::publish() {
    const auto now = Clock::now();
    if (now - publishedAt < publishEvery || waitsForDisk()) return;  // the next round comes soon
    publishedAt = now;
    changed = false;
    draft.practice = practice.practice();
    practiceShown = practice.version();
    draft.stones = lines.stones();
    linesShown = lines.version();
    screensShown = screens.version();
    screens.fill(draft);
    if (today && todayStep == TodayStep::part && partIsOver()) {
        (draft.stones ? draft.stones->nextDoes : draft.practice.nextDoes) = "go on with today";
    }
    draft.goesOn = GoingOn::words(draft, screens.settings().goOn);
    auto fresh = std::make_shared<const Snapshot>(draft);
    {
        const std::lock_guard lock(mutex);
        latest.swap(fresh);
    }
    if (published) published();
}

}  // namespace landfall
