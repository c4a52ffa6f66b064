#include "src/app/trainer.h"

#include <algorithm>
#include <array>
#include <atomic>
#include <chrono>
#include <cmath>
#include <deque>
#include <mutex>
#include <thread>
#include <utility>
#include <vector>

#include <fmt/core.h>

#include "dsp/quantise.h"
#include "src/app/drill_play.h"
#include "src/app/input_watch.h"
#include "src/app/practice_screen.h"
#include "src/app/screens/screens.h"
#include "src/formats/drill_file.h"
#include "src/practice/listener.h"
#include "src/system/machine.h"

namespace landfall {

namespace {

using Clock = std::chrono::steady_clock;
constexpr auto publishEvery = std::chrono::milliseconds(8);   // at most: two snapshots a frame are enough
constexpr auto lookEvery = std::chrono::milliseconds(100);    // at the level, the troubles and the log
constexpr double levelHeld = 15.0;                            // s: the loudest of so long is shown, which is calm between tries
constexpr double inputsHeld = 1.0;                            // s: which input moves when a string is hit must be seen at once
constexpr auto sittingEnds = std::chrono::hours(1);              // without a try: what is played then is another sitting
constexpr double levelStep = 3.0;                             // dB

Decibels stepped(double level) { return Decibels(std::max(-140.0, levelStep * std::ceil(level / levelStep))); }

// Between two inputs, and where one cannot be opened.
struct NoInput : SoundSource {
    double sampleRate() const override { return 0.0; }
    Heard read(std::span<float>) override { return {}; }
};

bool same(const std::vector<Notice>& a, const std::vector<Notice>& b) {
    return std::equal(a.begin(), a.end(), b.begin(), b.end(), [](const Notice& x, const Notice& y) { return x.trouble == y.trouble && x.detail == y.detail; });
}

bool same(const Guitar& a, const Guitar& b) {
    return a.openStrings == b.openStrings && a.capo == b.capo && a.highestFret == b.highestFret && a.leftHanded == b.leftHanded && a.a4 == b.a4 &&
           a.gaugesInch == b.gaugesInch && a.plainStrings == b.plainStrings && a.scaleMm == b.scaleMm;
}

}  // namespace

struct Trainer::State {
    // Fixed once the thread runs.
    TrainerConfig config;
    std::thread thread;

    // The analysis thread's.
    std::unique_ptr<RunningSitting> sitting;
    std::vector<std::unique_ptr<RunningSitting>> unsaved;  // earlier ones that the log did not take
    std::unique_ptr<Screens> screens;
    unsigned long screensShown = 0;
    std::string fallback;                     // why the simulated student plays although nobody asked for it
    SourceWish wish;
    std::unique_ptr<SoundSource> source;
    Settings settings;
    Guitar guitar;
    std::unique_ptr<Listener> idle;           // hears where no drill does
    std::unique_ptr<DrillPlay> play;
    std::vector<double> stiffness;            // of the player's strings, as known now; the simulated student's are its own
    std::unique_ptr<PracticeScreen> practice;
    Drill drill;
    bool wantsDrill = true;                   // begins as soon as the source has a rate
    bool paused = false;
    bool heavy = false;                       // asked for with this drill
    bool inputOver = false;
    bool replaying = false;                   // a kept take is being heard
    bool summed = false;                      // the end of the drill has been told to the screen
    SittingLoad load;
    CalendarTime lastTry = calendarNow();     // a machine that sleeps stops the other clock
    InputWatch watch;
    std::deque<double> peaks;                 // of tenths of a second, dBFS
    std::unique_ptr<InputMeter> inputMeter;   // while an input is chosen
    unsigned long metered = 0;                // Screens::toMeter
    std::deque<std::vector<InputLevels>> levels;  // of tenths of a second
    bool clipping = false;
    std::string takeTrouble, settingsTrouble;
    Snapshot draft;
    unsigned long practiceShown = 0;
    bool changed = true;
    Clock::time_point looked{}, published{}, lastSound = Clock::now();
    std::array<float, 512> block{};

    // Shared.
    mutable std::mutex mutex;
    std::shared_ptr<const Snapshot> latest;
    std::deque<Intent> intents;
    std::atomic<bool> ending{false};

    Result<void> openInput();
    Result<void> newSitting();
    void carryOut(const ScreensWish& asked);
    void newSettings(const Settings& before);
    void newInput();
    void run();
    void takeIntents();
    void handle(const Intent& intent);
    void practising(Intent::Kind kind);
    void beginDrill();
    void leaveDrill();
    void nextDrill();
    void hearBlock();
    void hearReports();
    void hear(const ListenerEvent& event);
    void lead();
    void look();
    void meter();
    void publish();
    std::vector<Notice> notices() const;
    std::string deviceLine() const;
};

Result<std::unique_ptr<Trainer>> Trainer::start(TrainerConfig config) {
    auto state = std::make_unique<State>();
    const auto drill = findDrill(config.drill);
    if (!drill) return drill.error();
    const auto file = settingsFile();
    if (!file) return file.error();
    auto loaded = loadSettings(*file);
    if (!loaded) return loaded.error();
    state->drill = *drill;
    state->settings = loaded->settings;
    state->guitar = state->settings.guitar;
    state->stiffness = state->guitar.stiffness;
    state->heavy = config.heavy;
    if (config.sitting.aim > 0.0) state->settings.aim = Cents(config.sitting.aim);
    state->wish = config.source;
    if (state->wish.input.empty()) {
        state->wish.input = state->settings.simulated ? "simulated" : "device";
        if (!state->settings.simulated && state->wish.device.empty() && state->settings.deviceName.empty()) {
            const auto devices = config.findDevices();
            if (!devices || std::none_of(devices->begin(), devices->end(), [](const SoundDevice& each) { return each.inputs > 0; })) {
                state->wish.input = "simulated";
                state->fallback = fmt::format("{}: the simulated student {} plays.", devices ? "No sound input here" : devices.error().message, state->wish.skill.name);
            }
        }
    }
    // What the command line says is in use for this sitting, whatever the screens change beside it.
    state->settings.simulated = state->wish.input == "simulated";
    if (state->wish.input == "device" && !state->wish.device.empty()) state->settings.deviceName = state->wish.device;
    if (state->wish.input == "device" && state->wish.channel > 0) state->settings.channel = state->wish.channel;
    state->config = std::move(config);
    if (auto begun = state->newSitting(); !begun) return begun.error();
    if (auto opened = state->openInput(); !opened) return opened.error();
    auto ownFolder = ownDrillsFolder();
    if (!ownFolder) return ownFolder.error();
    const bool fromFile = state->wish.input != "device" && state->wish.input != "simulated";
    state->screens = std::make_unique<Screens>(ScreensConfig{.settingsFile = *file,
                                                             .drillsFolder = *ownFolder,
                                                             .log = [now = state.get()] { return now->sitting->log().state().log; },
                                                             .findDevices = fromFile ? std::function<Result<std::vector<SoundDevice>>()>{} : state->config.findDevices,
                                                             .student = [now = state.get()] { return now->sitting->settings().student; }},
                                               state->settings);
    if (!loaded->warnings.empty()) state->settingsTrouble = loaded->warnings.front();
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
    state->screens.reset();
    state->leaveDrill();  // its takes are written first
    state->sitting->keepStiffness(state->stiffness);
    int status = state->sitting->end();
    for (const auto& earlier : state->unsaved) status = std::max(status, earlier->end());
    return status;
}

// The simulated student's tries are the student's own: a player's log stays the player's.
Result<void> Trainer::State::newSitting() {
    SittingWish asked = config.sitting;
    asked.input = wish.input;
    if (asked.student.empty() && wish.input == "simulated") asked.student = wish.skill.name;
    auto begun = RunningSitting::begin(asked, settings);
    if (!begun) return begun.error();
    if (sitting && sitting->log().drain().waiting > 0) unsaved.push_back(std::move(sitting));
    sitting = std::move(*begun);
    return {};
}

Result<void> Trainer::State::openInput() {
    wish.guitar = guitar;
    const bool fromDevice = wish.input == "device";
    if (fromDevice && wish.device.empty()) wish.device = settings.deviceName;
    if (wish.channel == 0) wish.channel = fromDevice ? settings.channel : 1;
    if (wish.frames == 0) wish.frames = settings.frames;
    wish.output = settings.outputName;
    wish.soundLevel = settings.soundLevel;
    inputMeter.reset();
    source = std::make_unique<NoInput>();  // a card may serve one at a time
    auto opened = config.open(wish);
    if (!opened) return opened.error();
    source = std::move(*opened);
    idle.reset();
    watch = InputWatch();
    inputOver = replaying = false;
    peaks.clear();
    changed = true;
    return {};
}

// Another input, chosen at the start or in the settings. What cannot be opened leaves the screen saying so.
void Trainer::State::newInput() {
    const bool wasSimulated = wish.input == "simulated";
    leaveDrill();
    wish.input = settings.simulated ? "simulated" : "device";
    wish.device.clear();
    wish.channel = 0;
    fallback.clear();
    practice.reset();
    wantsDrill = true;
    if (const auto opened = openInput(); !opened) {
        watch.absent(opened.error().message);
        return;
    }
    if (wasSimulated == settings.simulated) return;
    if (const auto begun = newSitting(); !begun) settingsTrouble = begun.error().message;
}

void Trainer::State::newSettings(const Settings& before) {
    const bool anotherTask = settings.aim != before.aim || settings.target != before.target || !same(settings.guitar, before.guitar);
    guitar = settings.guitar;
    source->soundLevel(settings.soundLevel);
    if (play) play->soundTargets(wish.input == "device" && settings.targetNote);
    if (practice) practice->tell(tellingNamed(settings.feedback), tracingNamed(settings.trace));
    if (!anotherTask) return;
    idle.reset();
    leaveDrill();
    if (const auto begun = newSitting(); !begun) settingsTrouble = begun.error().message;
    wantsDrill = true;  // the drill begins again once practice is open
}

void Trainer::State::carryOut(const ScreensWish& asked) {
    const Settings before = std::exchange(settings, screens->settings());
    if (asked.newSettings && !asked.newInput) newSettings(before);
    if (asked.newInput) newInput();
    if (asked.newStudent) {
        // What the settings say wins from now on, over the command line and the simulated student's own name.
        if (settings.student != before.student) config.sitting.student = settings.student;
        if (settings.log != before.log) config.sitting.log.clear();
        leaveDrill();
        if (const auto begun = newSitting(); !begun) settingsTrouble = begun.error().message;
        wantsDrill = true;
        load = {};
        practice.reset();
    }
    const bool runs = source->sampleRate() > 0.0;
    if (asked.testTone && !source->sound(Hertz(440.0), Seconds(1.0)) && runs) screens->noSoundOutput();
    if (asked.silence) source->silence();
    if (asked.sound) {
        source->play(std::shared_ptr<const std::vector<float>>(asked.sound, &asked.sound->samples), asked.sound->sampleRate);
        replaying = source->playing();
        if (!replaying) screens->noSoundOutput();
    }
    if (asked.strike && asked.strike->token == sitting->sittingToken()) {
        if (asked.strike->struck) sitting->log().strike(asked.strike->number);
        else sitting->log().restore(asked.strike->number);
    }
    if (asked.play) {
        drill = asked.play->drill;
        heavy = config.heavy || asked.play->heavyAsked;
        wantsDrill = true;
    }
}

void Trainer::State::run() {
    while (!ending) {
        if (toldToEnd()) ending = true;
        takeIntents();
        screens->poll();
        hearReports();
        hearBlock();
        lead();
        look();
        if (changed || screens->version() != screensShown || (practice && practice->version() != practiceShown)) publish();
    }
    if (config.published) config.published();  // that it ends
}

void Trainer::State::takeIntents() {
    std::deque<Intent> fresh;
    {
        const std::lock_guard lock(mutex);
        fresh.swap(intents);
    }
    for (const Intent& intent : fresh) handle(intent);
}

void Trainer::State::handle(const Intent& intent) {
    using Kind = Intent::Kind;
    const bool practices = intent.kind == Kind::again || intent.kind == Kind::next || intent.kind == Kind::discard || intent.kind == Kind::see;
    if (screens->screen() == Screen::practice && practices) practising(intent.kind);
    else if (intent.kind != Kind::quit) carryOut(screens->act(intent));
}

void Trainer::State::practising(Intent::Kind kind) {
    if (!play) {
        if (kind == Intent::Kind::next) nextDrill();
        if (kind == Intent::Kind::again) beginDrill();
        return;
    }
    DrillSession& session = play->session();
    const bool over = session.state().phase == DrillPhase::done;
    switch (kind) {
        case Intent::Kind::again:
            if (over) return beginDrill();
            practice->again();
            play->soundTarget(*source);
            break;
        case Intent::Kind::next:
            if (over) return nextDrill();
            session.next();
            break;
        case Intent::Kind::discard: session.discard(); break;
        case Intent::Kind::see:
            session.see();
            practice->see();
            break;
        default: break;
    }
}

void Trainer::State::nextDrill() {
    drill = screens->drillAfter(drill.name).drill;
    heavy = config.heavy;
    beginDrill();
}

// Before the sitting is another one: a drill writes into its log.
void Trainer::State::leaveDrill() {
    if (!play) return;
    load = play->session().plan().load();
    if (wish.input != "simulated") stiffness = play->session().stiffness();
    play.reset();
}

void Trainer::State::beginDrill() {
    wantsDrill = source->sampleRate() <= 0.0;
    if (wantsDrill) return;  // as soon as the device runs
    leaveDrill();
    if (calendarNow() - lastTry > sittingEnds) {
        if (const auto begun = newSitting(); !begun) settingsTrouble = begun.error().message;
        load = {};
        lastTry = calendarNow();
    }
    guitar.stiffness = wish.input == "simulated" ? std::vector<double>{} : stiffness;
    summed = paused = false;
    practice = std::make_unique<PracticeScreen>(PracticeScreen::Config{.drill = drill,
                                                                      .guitar = guitar,
                                                                      .aim = settings.aim,
                                                                      .telling = tellingNamed(settings.feedback),
                                                                      .tracing = tracingNamed(settings.trace),
                                                                      .seeKey = keyName(settings.keys.see)});
    practiceShown = 0;
    std::filesystem::path takes;
    if (config.keepTakes || settings.keepTakes) {
        if (const auto data = dataFolder()) {
            takes = *data / "takes" / localText(calendarNow());
            std::error_code refused;
            std::filesystem::create_directories(takes, refused);
            if (refused) takeTrouble = fmt::format("{}: {}; the sound of the tries is not kept", takes.string(), refused.message());
            if (refused) takes.clear();
        }
    }
    auto made = DrillPlay::make({.session = {.runner = {.drill = drill, .guitar = guitar, .aim = settings.aim, .firstMonth = sitting->inFirstMonth(), .heavyAsked = heavy, .load = load},
                                             .sampleRate = source->sampleRate(),
                                             .target = sitting->target()},
                                 .targetNote = wish.input == "device" && settings.targetNote,
                                 .takes = takes},
                                sitting->log());
    if (made) {
        play = std::move(*made);
        practice->follow(play->session().state(), play->session().now());
    } else {
        practice->refuse(made.error().message);
    }
}

void Trainer::State::hearReports() {
    while (const auto report = source->report()) {
        switch (report->kind) {
            case DeviceReport::Kind::starting: break;
            case DeviceReport::Kind::running: watch.running(false); break;
            case DeviceReport::Kind::backAgain: watch.running(true); break;
            case DeviceReport::Kind::noOutput: watch.outputGone(); break;
            case DeviceReport::Kind::lost: watch.gone(report->line); break;
            case DeviceReport::Kind::noSuchDevice:
            case DeviceReport::Kind::refusedRate:
            case DeviceReport::Kind::failed: watch.absent(report->line); break;
        }
        looked = {};
    }
}

void Trainer::State::hear(const ListenerEvent& event) {
    watch.hear(event);
    if (const auto* level = std::get_if<InputLevel>(&event)) {
        peaks.push_back(level->peak.value);
        while (static_cast<double>(peaks.size()) > 10.0 * levelHeld) peaks.pop_front();
        clipping = level->clipping;
    }
}

// While another screen is open and a try would be asked for, the drill hears nothing: its clock is the sound, so it waits.
void Trainer::State::hearBlock() {
    const auto heard = source->read(block);
    const double rate = source->sampleRate();
    if (rate > 0.0 && wantsDrill && screens->screen() == Screen::practice) beginDrill();
    if (heard.missing > 0 && rate > 0.0) watch.gap(Seconds(static_cast<double>(heard.missing) / rate));
    if (heard.samples == 0) std::this_thread::sleep_for(std::chrono::milliseconds(2));
    else lastSound = Clock::now();

    const bool pause = play && screens->screen() != Screen::practice && play->session().state().phase == DrillPhase::asking;
    const auto tell = [this](const ListenerEvent& event) {
        hear(event);
        practice->hear(event);
        if (std::holds_alternative<TryEnded>(event)) lastTry = calendarNow();
        if (std::holds_alternative<TryStruck>(event)) summed = false;  // at a drill's end its summary is another
    };
    if (play && pause && !paused) play->hear({}, static_cast<std::uint64_t>(0.5 * rate), tell);
    paused = pause;
    const auto samples = std::span(block).first(heard.samples);
    if (play && !paused) {
        play->hear(samples, heard.missing, tell);
        practice->follow(play->session().state(), play->session().now());
    } else if (!samples.empty()) {
        quantise(samples);
        if (!idle) idle = std::make_unique<Listener>(ListenerConfig{.sampleRate = rate, .a4 = guitar.a4});
        for (const ListenerEvent& event : idle->process(samples)) hear(event);
    }
    screens->hear(samples, rate);  // quantised by now
    if (heard.ended && !inputOver) {
        inputOver = true;
        if (play) {
            play->finish(tell);
            play->session().stop();
            practice->follow(play->session().state(), play->session().now());
        }
    }
}

void Trainer::State::lead() {
    if (const int string = screens->askedString(); string > 0) source->askedString(string);
    if (replaying && !source->playing()) {
        replaying = false;
        screens->soundOver();
    }
    if (!play) return;
    if (!paused) play->lead(*source);
    if (summed || play->session().state().phase != DrillPhase::done) return;
    summed = true;
    practice->finish(play->session().summary(), play->session().now());
    if (inputOver) practice->follow(play->session().state(), play->session().now() + Seconds(60.0));
}

std::string Trainer::State::deviceLine() const {
    if (wish.input == "simulated") return fmt::format("Simulated player {}", wish.skill.name);
    if (wish.input != "device") return std::filesystem::path(wish.input).filename().string();
    const std::string name = wish.device.empty() ? "System input" : wish.device;
    const double rate = source->sampleRate();
    return fmt::format("{}, channel {}{}", name, wish.channel, rate > 0.0 ? fmt::format(" · {:g} kHz", rate / 1000.0) : "");
}

std::vector<Notice> Trainer::State::notices() const {
    // While an input is chosen, what is wrong with the one in use is beside the point.
    std::vector<Notice> all = metered > 0 ? std::vector<Notice>{} : watch.notices();
    if (play && play->session().state().phase == DrillPhase::stringSlipped) all.push_back({Trouble::stringSlipped, play->session().state().message});
    if (!settings.targetNote) std::erase_if(all, [](const Notice& each) { return each.trouble == Trouble::noOutput; });
    const auto log = sitting->log().state();
    if (!log.problem.empty()) all.push_back({Trouble::logTrouble, log.problem});
    else if (!takeTrouble.empty()) all.push_back({Trouble::logTrouble, takeTrouble});
    else if (!settingsTrouble.empty()) all.push_back({Trouble::logTrouble, settingsTrouble});
    if (wish.input == "simulated") all.push_back({Trouble::simulated, fallback.empty() ? fmt::format("The simulated student {} plays.", wish.skill.name) : fallback});
    std::stable_sort(all.begin(), all.end(), [](const Notice& a, const Notice& b) { return a.trouble < b.trouble; });
    return all;
}

void Trainer::State::look() {
    const auto now = Clock::now();
    if (now - looked < lookEvery) return;
    if (now - lastSound > lookEvery) watch.wait(Seconds(0.1));
    looked = now;
    if (play)
        for (std::string& line : play->takeTrouble()) takeTrouble = std::move(line);
    if (auto fresh = notices(); !same(fresh, draft.notices)) {
        draft.notices = std::move(fresh);
        changed = true;
    }
    if (screens) meter();
    const bool heard = !peaks.empty();
    const double loudest = heard ? *std::max_element(peaks.begin(), peaks.end()) : -140.0;
    const Input input{deviceLine(), stepped(loudest), clipping};
    if (input.device == draft.input.device && input.level == draft.input.level && input.clipping == draft.input.clipping) return;
    draft.input = input;
    changed = true;
}

// All inputs while one is chosen: the one in use tells its own levels, since it may serve nobody else.
void Trainer::State::meter() {
    if (const auto wanted = screens->toMeter(); wanted != metered) {
        metered = wanted;
        inputMeter.reset();
        levels.clear();
        if (auto started = wanted > 0 ? InputMeter::start() : Error{}; started) inputMeter = std::move(*started);
    }
    if (metered == 0) return;
    std::vector<InputLevels> all = inputMeter ? inputMeter->take() : std::vector<InputLevels>{};
    if (InputLevels own = source->levels(); !own.device.empty()) {
        std::erase_if(all, [&](const InputLevels& each) { return each.device == own.device; });
        all.push_back(std::move(own));
    }
    for (InputLevels& each : all)
        for (Decibels& peak : each.peaks) peak = stepped(peak.value);
    levels.push_back(all);
    while (static_cast<double>(levels.size()) > 10.0 * inputsHeld) levels.pop_front();
    for (const auto& tenth : levels)
        for (const InputLevels& then : tenth) {
            const auto now = std::find_if(all.begin(), all.end(), [&](const InputLevels& each) { return each.device == then.device; });
            if (now == all.end() || now->peaks.size() != then.peaks.size()) continue;
            std::transform(then.peaks.begin(), then.peaks.end(), now->peaks.begin(), now->peaks.begin(), [](Decibels a, Decibels b) { return std::max(a, b); });
        }
    screens->levels(all);
}

void Trainer::State::publish() {
    const auto now = Clock::now();
    if (now - published < publishEvery) return;  // the next round comes soon
    published = now;
    changed = false;
    draft.practice = practice ? practice->practice() : Practice{};
    if (practice) practiceShown = practice->version();
    screensShown = screens->version();
    screens->fill(draft);
    auto fresh = std::make_shared<const Snapshot>(draft);
    {
        const std::lock_guard lock(mutex);
        latest.swap(fresh);
    }
    if (config.published) config.published();
}

}  // namespace landfall
