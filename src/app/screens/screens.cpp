#include "src/app/screens/screens.h"

#include <algorithm>
#include <utility>

#include "gui/words.h"
#include "src/audio/audio_device.h"

namespace landfall {

namespace {

using Kind = Intent::Kind;

constexpr auto lookAgain = std::chrono::seconds(4);  // for devices, on the screen where one is chosen

std::string today() { return utcText(calendarNow()).substr(0, 10); }

}  // namespace

std::vector<SoundDevice> offered(const std::vector<DeviceInfo>& devices) {
    std::vector<SoundDevice> all;
    for (const DeviceInfo& device : devices)
        if (!device.converted) all.push_back({device.label(), device.inputs, device.defaultInput, device.outputs});
    return all;
}

Result<std::vector<SoundDevice>> soundDevices() {
    const auto devices = listDevices();
    if (!devices) return devices.error();
    return offered(*devices);
}

Screens::Screens(ScreensConfig given, const Settings& settings)
    : config(std::move(given)), drillsScreen(settings.guitar, {}), settingsScreen(settings),
      startScreen(builtInDrills().front().name, builtInDrills().front().trains), stringsScreen(settings.guitar) {
    if (settings.cautionsSeen.empty()) open(Screen::start);
    beside.ask([this, folder = config.drillsFolder]() -> SideWork::Answer {
        return [this, own = ownDrills(folder)] { drillsScreen.setOwn(own); };
    });
}

void Screens::open(Screen screen) {
    const bool other = now != screen;
    now = screen;
    ++changes;
    switch (screen) {
        case Screen::start:
            if (!other) startScreen.toInputs();
            else if (settings().cautionsSeen.empty()) startScreen.begin();
            else startScreen.show(StartStep::device);
            lookForDevices();
            break;
        case Screen::stringCheck: stringsScreen.begin(settings().guitar); break;
        case Screen::drills:
            beside.ask([this, folder = config.drillsFolder]() -> SideWork::Answer {
                return [this, own = ownDrills(folder)] { drillsScreen.setOwn(own); };
            });
            break;
        case Screen::history: readLog(); break;
        case Screen::settings:
            lookForDevices();
            beside.ask([this, log = config.log()]() -> SideWork::Answer {
                return [this, names = readStudents(log)] {
                    if (names) settingsScreen.setStudents(*names);
                };
            });
            break;
        case Screen::practice: break;
    }
    if (screen != Screen::stringCheck) ear.reset();
}

void Screens::lookForDevices() {
    if (startScreen.view().looking || !config.findDevices) return;
    startScreen.lookingForDevices();
    findDevices();
}

void Screens::findDevices() {
    if (std::exchange(finding, true)) return;
    beside.ask([this, find = config.findDevices]() -> SideWork::Answer {
        return [this, devices = find()] {
            const std::vector<SoundDevice> there = devices ? *devices : std::vector<SoundDevice>{};
            if (!devices) settingsScreen.say(devices.error().message);
            finding = false;
            foundAt = std::chrono::steady_clock::now();
            settingsScreen.setDevices(there);
            startScreen.setDevices(there, inputInUse());
        };
    });
}

StartScreen::Chosen Screens::inputInUse() const { return {settings().simulated, settings().deviceName, settings().channel}; }

void Screens::readLog() {
    historyScreen.reading();
    beside.ask([this, log = config.log(), student = config.student ? config.student() : settings().student]() -> SideWork::Answer {
        return [this, read = std::make_shared<Result<std::vector<ReadSitting>>>(readHistory(log, student))] {
            if (*read) historyScreen.setLog(std::move(**read));
            else historyScreen.say(read->error().message);
        };
    });
}

// Saves what is different now.
void Screens::keep(const Settings& before) {
    beside.ask([this, file = config.settingsFile, before, after = settings()]() -> SideWork::Answer {
        const auto saved = saveChanges(file, before, after);
        if (saved) return {};
        return [this, words = saved.error().message] { settingsScreen.say(words); };
    }, true);
}

void Screens::play(const DrillWish& drill, ScreensWish& wish) {
    if (drill.keep)
        beside.ask([this, folder = config.drillsFolder, copy = drill.drill]() -> SideWork::Answer {
            const auto kept = keepDrill(folder, copy);
            if (kept) return {};
            return [this, words = kept.error().message] { drillsScreen.say(words); };
        }, true);
    wish.play = drill;
    open(Screen::practice);
}

ScreensWish Screens::act(const Intent& intent) {
    ScreensWish wish;
    ++changes;
    if (intent.kind == Kind::open) {
        // What lies over a list closes with it.
        if (now == Screen::history && historyScreen.view().opened) wish = actHistory({Kind::less, now, 0});
        if (now == Screen::drills) drillsScreen.act(intent);
        checkFromStart = false;
        open(intent.screen);
        return wish;
    }
    switch (now) {
        case Screen::practice: break;
        case Screen::start: return actStart(intent);
        case Screen::stringCheck: return actStrings(intent);
        case Screen::history: return actHistory(intent);
        case Screen::settings: return actSettings(intent);
        case Screen::drills:
            if (const auto drill = drillsScreen.act(intent)) play(*drill, wish);
            break;
    }
    return wish;
}

ScreensWish Screens::actStart(const Intent& intent) {
    const Settings before = settings();
    const StartWish asked = startScreen.act(intent);
    ScreensWish wish;
    if (asked.cautionsSeen) {
        Settings after = settings();
        after.cautionsSeen = today();
        settingsScreen.use(after);
        wish.newSettings = true;
    }
    if (asked.useInput) {
        const StartScreen::Chosen input = *startScreen.input();
        Settings after = settings();
        after.simulated = input.simulated;
        after.deviceName = input.device;
        after.channel = input.channel;
        settingsScreen.use(after);
        wish.newInput = wish.newSettings = true;
    }
    if (wish.newSettings) keep(before);
    if (asked.playFirst) play({drillsScreen.all().front()}, wish);
    if (asked.open) {
        checkFromStart = *asked.open == Screen::stringCheck;
        open(*asked.open);
    }
    return wish;
}

ScreensWish Screens::actStrings(const Intent& intent) {
    const Settings before = settings();
    const StringsWish asked = stringsScreen.act(intent);
    ScreensWish wish;
    if (asked.newGuitar) {
        Settings after = before;
        after.guitar = stringsScreen.guitar();
        settingsScreen.use(after);
        drillsScreen.setGuitar(after.guitar);
        keep(before);
        wish.newSettings = true;
    }
    if (asked.over && checkFromStart) {
        checkFromStart = false;
        startScreen.stringsChecked();
        now = Screen::start;
        ear.reset();
    } else if (asked.over) {
        open(Screen::practice);
    }
    return wish;
}

ScreensWish Screens::actHistory(const Intent& intent) {
    ScreensWish wish;
    const auto asked = historyScreen.act(intent);
    if (!asked) return wish;
    switch (asked->kind) {
        case HistoryWish::Kind::read:
            wish.silence = true;
            readTakeOf(*asked);
            break;
        case HistoryWish::Kind::play: wish.sound = take; break;
        case HistoryWish::Kind::stop: wish.silence = true; break;
        case HistoryWish::Kind::strike:
        case HistoryWish::Kind::restore:
            wish.strike = ScreensWish::Strike{asked->token, asked->oneTry.number, asked->oneTry.struck};
            strike(*asked);
            break;
    }
    return wish;
}

void Screens::readTakeOf(const HistoryWish& wish) {
    beside.ask([this, wish]() -> SideWork::Answer {
        return [this, wish, read = std::make_shared<const Result<ReadTake>>(readTake(wish.oneTry, wish.guitar))] {
            historyScreen.setTake(wish.sittingId, wish.oneTry.number, *read);
            if (*read) take = std::shared_ptr<const ReadTake>(read, &read->value());
        };
    });
}

void Screens::strike(const HistoryWish& wish) {
    beside.ask([this, wish, file = config.log()]() -> SideWork::Answer {
        auto log = Log::open(file, Log::Access::write);
        const Result<void> done = log ? log->setStruck(wish.sittingId, wish.oneTry.number, wish.oneTry.struck) : Result<void>(log.error());
        if (done) return {};
        return [this, words = done.error().message] {
            readLog();  // as it is
            historyScreen.say(words);
        };
    }, true);
}

ScreensWish Screens::actSettings(const Intent& intent) {
    const Settings before = settings();
    const SettingsWish asked = settingsScreen.act(intent);
    ScreensWish wish;
    wish.newSettings = asked.changed;
    wish.newInput = asked.newInput || (asked.newOutput && !settings().simulated);
    wish.newStudent = asked.newStudent;
    wish.testTone = asked.testTone;
    if (asked.changed) {
        drillsScreen.setGuitar(settings().guitar);
        keep(before);
    }
    if (asked.open) open(*asked.open);
    if (asked.step) startScreen.show(*asked.step);
    return wish;
}

void Screens::poll() {
    if (beside.take()) ++changes;
    // What is plugged in while one waits for it is found without a key.
    const bool waiting = now == Screen::start && startScreen.view().step == StartStep::device && config.findDevices && !finding;
    if (waiting && std::chrono::steady_clock::now() - foundAt > lookAgain) findDevices();
}

void Screens::hear(std::span<const float> samples, double rate) {
    if (now != Screen::stringCheck || rate <= 0.0) return;
    if (!ear || ear->sampleRate() != rate) ear = std::make_unique<HeldNoteEar>(rate);
    for (const HeldNote& note : ear->hear(samples)) {
        stringsScreen.hear(note);
        ++changes;
    }
}

void Screens::levels(const std::vector<InputLevels>& heard) {
    if (startScreen.levels(heard)) ++changes;
}

void Screens::soundOver() {
    historyScreen.played();
    ++changes;
}

void Screens::noSoundOutput() {
    if (now == Screen::settings) settingsScreen.say("No sound output goes with this input: choose another output.");
    else historyScreen.cannotPlay();
    ++changes;
}

void Screens::fill(Snapshot& snapshot) const {
    snapshot.screen = now;
    snapshot.dark = isDark(settings());
    snapshot.textSize = std::clamp(settings().textSize, 1.0, 1.5);
    snapshot.keys = keyMapOf(settings());
    snapshot.start = now == Screen::start ? startScreen.view() : Start{};
    if (now == Screen::start) {
        snapshot.start.neck = neckOf(settings().guitar);
        const auto places = placesOn(drillsScreen.all().front(), settings().guitar).places;
        if (!places.empty()) snapshot.start.neck.place = places.front();
    }
    snapshot.strings = now == Screen::stringCheck ? stringsScreen.view() : Strings{};
    snapshot.drills = now == Screen::drills ? drillsScreen.view() : DrillList{};
    snapshot.history = now == Screen::history ? historyScreen.view() : History{};
    snapshot.settings = now == Screen::settings ? settingsScreen.view() : SettingList{};
    if (!snapshot.start.inputs.empty() && settings().simulated) snapshot.start.inputs.back().level = snapshot.input.level;
}

}  // namespace landfall
