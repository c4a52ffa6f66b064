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

#include "src/app/drill_play.h"
#include "src/app/input_watch.h"
#include "src/app/practice_screen.h"
#include "src/formats/drill_file.h"
#include "src/practice/listener.h"
#include "src/system/machine.h"

namespace landfall {

namespace {

using Clock = std::chrono::steady_clock;
constexpr auto publishEvery = std::chrono::milliseconds(8);   // at most: two snapshots a frame are enough
constexpr auto lookEvery = std::chrono::milliseconds(100);    // at the level, the troubles and the log
constexpr double levelHeld = 15.0;                            // s: the loudest of so long is shown, which is calm between tries
constexpr double levelStep = 3.0;                             // dB

bool same(const std::vector<Notice>& a, const std::vector<Notice>& b) {
    return std::equal(a.begin(), a.end(), b.begin(), b.end(), [](const Notice& x, const Notice& y) { return x.trouble == y.trouble && x.detail == y.detail; });
}

bool anyInput(const std::vector<DeviceInfo>& devices) {
    return std::any_of(devices.begin(), devices.end(), [](const DeviceInfo& device) { return device.inputs > 0; });
}

}  // namespace

struct Trainer::State {
    // Fixed once the thread runs.
    TrainerConfig config;
    std::string fallback;  // why the simulated student plays although nobody asked for it
    std::thread thread;

    // The analysis thread's.
    std::unique_ptr<RunningSitting> sitting;
    SourceWish wish;
    std::unique_ptr<SoundSource> source;
    Settings settings;
    Guitar guitar;
    std::unique_ptr<Listener> idle;           // hears where no drill does
    std::unique_ptr<DrillPlay> play;
    std::unique_ptr<PracticeScreen> practice;
    Drill drill;
    bool wantsDrill = true;                   // begins as soon as the source has a rate
    bool paused = false;
    bool inputOver = false;
    bool summed = false;                      // the end of the drill has been told to the screen
    SittingLoad load;
    InputWatch watch;
    std::deque<double> peaks;                 // of tenths of a second, dBFS
    bool clipping = false;
    std::string takeTrouble;
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
    void run();
    void takeIntents();
    void handle(const Intent& intent);
    void practising(Intent::Kind kind);
    void beginDrill();
    void nextDrill();
    void hearBlock();
    void hearReports();
    void hear(const ListenerEvent& event);
    void lead();
    void look();
    void publish();
    std::vector<Notice> notices() const;
    std::string deviceLine() const;
};

Result<std::unique_ptr<Trainer>> Trainer::start(TrainerConfig config) {
    auto state = std::make_unique<State>();
    const auto drill = findDrill(config.drill);
    if (!drill) return drill.error();
    state->drill = *drill;
    state->wish = config.source;
    if (state->wish.input == "device" && state->wish.device.empty()) {
        const auto devices = listDevices();
        if (!devices || !anyInput(*devices)) {
            state->wish.input = "simulated";
            state->fallback = fmt::format("No sound input here: the simulated student {} plays.", state->wish.skill.name);
            // Her tries are hers: the player's log stays the player's.
            if (config.sitting.student.empty()) config.sitting.student = state->wish.skill.name;
        }
    }
    config.sitting.input = state->wish.input;
    auto sitting = RunningSitting::begin(config.sitting);
    if (!sitting) return sitting.error();
    state->sitting = std::move(*sitting);
    state->settings = state->sitting->settings();
    state->guitar = state->settings.guitar;
    state->config = std::move(config);
    if (auto opened = state->openInput(); !opened) return opened.error();
    state->draft.screen = Screen::practice;
    state->draft.dark = state->settings.theme != "light";
    state->draft.textSize = state->settings.textSize;
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
    state->play.reset();  // its takes are written first
    return state->sitting->end();
}

Result<void> Trainer::State::openInput() {
    wish.guitar = guitar;
    const bool fromDevice = wish.input == "device";
    if (fromDevice && wish.device.empty()) wish.device = chosenDevice(settings);
    if (wish.channel == 0) wish.channel = fromDevice ? settings.channel : 1;
    if (wish.frames == 0) wish.frames = settings.frames;
    wish.soundLevel = settings.soundLevel;
    auto opened = config.open(wish);
    if (!opened) return opened.error();
    source = std::move(*opened);
    idle.reset();
    watch = InputWatch();
    inputOver = false;
    peaks.clear();
    changed = true;
    return {};
}

void Trainer::State::run() {
    while (!ending) {
        if (toldToEnd()) ending = true;
        takeIntents();
        hearReports();
        hearBlock();
        lead();
        look();
        if (changed || (practice && practice->version() != practiceShown)) publish();
    }
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
    switch (intent.kind) {
        case Intent::Kind::open:
            draft.screen = intent.screen;
            changed = true;
            break;
        case Intent::Kind::again:
        case Intent::Kind::next:
        case Intent::Kind::discard:
        case Intent::Kind::see: practising(intent.kind); break;
        default: break;
    }
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
    const auto& all = builtInDrills();
    const auto at = std::find_if(all.begin(), all.end(), [&](const Drill& each) { return each.name == drill.name; });
    drill = at == all.end() || std::next(at) == all.end() ? all.front() : *std::next(at);
    beginDrill();
}

void Trainer::State::beginDrill() {
    wantsDrill = source->sampleRate() <= 0.0;
    if (wantsDrill) return;  // as soon as the device runs
    if (play) load = play->session().plan().load();
    play.reset();
    summed = paused = false;
    practice = std::make_unique<PracticeScreen>(PracticeScreen::Config{.drill = drill,
                                                                      .guitar = guitar,
                                                                      .aim = settings.aim,
                                                                      .telling = tellingNamed(settings.feedback),
                                                                      .seeKey = keyName(draft.keys.see)});
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
    auto made = DrillPlay::make({.session = {.runner = {.drill = drill, .guitar = guitar, .aim = settings.aim, .heavyAsked = config.heavy, .load = load},
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
    if (rate > 0.0 && wantsDrill) beginDrill();
    if (heard.missing > 0 && rate > 0.0) watch.gap(Seconds(static_cast<double>(heard.missing) / rate));
    if (heard.samples == 0) std::this_thread::sleep_for(std::chrono::milliseconds(2));
    else lastSound = Clock::now();

    const bool pause = play && draft.screen != Screen::practice && play->session().state().phase == DrillPhase::asking;
    const auto tell = [this](const ListenerEvent& event) {
        hear(event);
        practice->hear(event);
    };
    if (play && pause && !paused) play->hear({}, static_cast<std::uint64_t>(0.5 * rate), tell);
    paused = pause;
    const auto samples = std::span(block).first(heard.samples);
    if (play && !paused) {
        play->hear(samples, heard.missing, tell);
        practice->follow(play->session().state(), play->session().now());
    } else if (!samples.empty()) {
        if (!idle) idle = std::make_unique<Listener>(ListenerConfig{.sampleRate = rate, .a4 = guitar.a4});
        for (const ListenerEvent& event : idle->process(samples)) hear(event);
    }
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
    std::vector<Notice> all = watch.notices();
    if (play && play->session().state().phase == DrillPhase::stringSlipped) all.push_back({Trouble::stringSlipped, play->session().state().message});
    const auto log = sitting->log().state();
    if (!log.problem.empty()) all.push_back({Trouble::logTrouble, log.problem});
    else if (!takeTrouble.empty()) all.push_back({Trouble::logTrouble, takeTrouble});
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
    const bool heard = !peaks.empty();
    const double loudest = heard ? *std::max_element(peaks.begin(), peaks.end()) : -140.0;
    const Input input{deviceLine(), Decibels(std::max(-140.0, levelStep * std::ceil(loudest / levelStep))), clipping};
    if (input.device == draft.input.device && input.level == draft.input.level && input.clipping == draft.input.clipping) return;
    draft.input = input;
    changed = true;
}

void Trainer::State::publish() {
    const auto now = Clock::now();
    if (now - published < publishEvery) return;  // the next round comes soon
    published = now;
    changed = false;
    if (practice) {
        practiceShown = practice->version();
        draft.practice = practice->practice();
    }
    auto fresh = std::make_shared<const Snapshot>(draft);
    const std::lock_guard lock(mutex);
    latest.swap(fresh);
}

}  // namespace landfall
