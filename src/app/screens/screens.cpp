#include "src/app/screens/screens.h"

#include <algorithm>
#include <utility>

#include <fmt/core.h>

#include "gui/words.h"
#include "src/audio/audio_device.h"
#include "src/formats/lesson_file.h"
#include "src/store/lessons.h"
#include "src/store/students.h"

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
      startScreen(builtInDrills().front()), stringsScreen(settings.guitar) {
    if (settings.cautionsSeen.empty()) open(Screen::start);
    readDrills({});
}

void Screens::open(Screen screen, std::optional<Student> student) {
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
        case Screen::drills: readDrills(config.log()); break;
        case Screen::progress:
            if (lookedAt.value_or(Student{}).uuid != student.value_or(Student{}).uuid) progressScreen = {};
            lookedAt = std::move(student);
            readLog();
            break;
        case Screen::students:
            readStudentList();
            if (studentsScreen.lesson()) readLesson(studentsScreen.lesson()->student());
            break;
        case Screen::lesson: readDrills(config.log()); break;
        case Screen::settings:
            lookForDevices();
            beside.ask([this, log = config.log(), own = ownLog()]() -> SideWork::Answer {
                return [this, names = readStudents(log), guitars = readGuitars(own)] {
                    if (names) settingsScreen.setStudents(*names);
                    if (guitars) settingsScreen.setGuitars(*guitars);
                };
            });
            break;
        case Screen::today:
            todayScreen.setMinutes(settings().todayMinutes);
            readToday();
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
            startScreen.setDevices(there, inputInUse(), devices ? "" : devices.error().message);
        };
    });
}

InputChosen Screens::inputInUse() const { return {settings().simulated, settings().deviceName, settings().channel}; }

void Screens::readDrills(const std::filesystem::path& log) {
    beside.ask([this, folder = config.drillsFolder, phrases = config.phrasesFolder, log,
                student = log.empty() ? std::string() : whoPlays(), guitar = settings().guitar]() -> SideWork::Answer {
        OwnDrills own = ownDrills(folder);
        if (auto next = readWhatNext(log, student, guitar)) own.drills.insert(own.drills.begin(), std::move(*next));
        return [this, own, ownLines = phrases.empty() ? OwnPhrases{} : ownPhrases(phrases),
                lessons = savedLessons(folder.parent_path() / "lessons")] {
            drillsScreen.setOwn(own, ownLines);
            lessonMaker.setOwn(own.drills, ownLines.phrases);
            lessonMaker.setSaved(lessons);
        };
    });
}

std::string Screens::whoPlays() const { return config.student ? config.student() : settings().student; }

void Screens::readToday() {
    ++todayReads;
    beside.ask([this, log = config.log(), student = whoPlays(), guitar = settings().guitar,
                phrases = config.phrasesFolder]() -> SideWork::Answer {
        return [this, read = std::make_shared<ReadToday>(landfall::readToday(log, student, guitar, phrases))] {
            --todayReads;
            todayScreen.set(std::move(*read));
        };
    });
}

void Screens::todayEnded(std::vector<TodayRow> parts, std::string toKeep) {
    todayScreen.ended(std::move(parts), std::move(toKeep));
    open(Screen::today);
}

// For the settings' student; and for whoever plays now, where that is the simulated one, so that it can be tried.
void Screens::takeLesson(const std::filesystem::path& file) {
    struct Keeper {
        std::filesystem::path log;
        std::string student;
        bool operator==(const Keeper&) const = default;
    };
    std::vector<Keeper> keepers{{ownLog(), settings().student.empty() ? "player" : settings().student}};
    if (const Keeper other{config.log(), whoPlays()}; other != keepers.front()) keepers.push_back(other);
    if (now != Screen::start) open(Screen::today);
    beside.ask(
        [this, file, keepers]() -> SideWork::Answer {
            auto lesson = readLessonFile(file);
            std::string said = lesson ? "Taken in: " + lesson->lesson.title : lesson.error().message;
            for (const Keeper& each : keepers) {
                if (!lesson) break;
                const auto kept =
                    keepLessonFor(each.log, each.student, {lesson->lesson.title, calendarNow(), lesson->text, false});
                if (!kept) said = kept.error().message;
            }
            return [this, said] {
                readToday();
                todayScreen.say(said);
            };
        },
        true);
}

void Screens::readLog() {
    progressScreen.reading();
    beside.ask([this, log = config.log(), player = whoPlays(), other = lookedAt]() -> SideWork::Answer {
        return [this, read = std::make_shared<Result<StudentReview>>(other ? readProgress(log, *other)
                                                                           : readProgress(log, player))] {
            if (*read) progressScreen.setLog(std::move(**read));
            else progressScreen.say(read->error().message);
            readMore();
        };
    });
}

// One that was begun before the screen was opened is written while it is open.
void Screens::logged(int tries) {
    if (std::exchange(triesLogged, tries) == tries || tries == 0) return;
    if (now == Screen::progress && !lookedAt) readLog();
}

void Screens::readStudentList(const std::string& trouble) {
    studentsScreen.reading(settings().student);
    beside.ask([this, log = config.log(), trouble]() -> SideWork::Answer {
        return [this, trouble, read = readStudentEntries(log)] {
            if (!read) return studentsScreen.say(read.error().message);
            studentsScreen.setStudents(*read);
            if (!trouble.empty()) studentsScreen.say(trouble);
            readNextGlance();
        };
    });
}

// One student after the other, so that what else is asked meanwhile need not wait for all.
void Screens::readNextGlance() {
    if (now != Screen::students) return;
    auto next = studentsScreen.toRead();
    if (!next) return;
    beside.ask([this, log = config.log(), student = std::move(*next)]() -> SideWork::Answer {
        const auto read = readGlance(log, student);
        if (!read) return [this, words = read.error().message] { studentsScreen.say(words); };
        return [this, glance = *read] {
            studentsScreen.setGlance(glance);
            readNextGlance();
        };
    });
}

void Screens::readLesson(const Student& student) {
    beside.ask([this, log = config.log(), student]() -> SideWork::Answer {
        return [this, student, read = std::make_shared<Result<LessonReview>>(landfall::readLesson(log, student))] {
            studentsScreen.setLesson(student, std::move(*read));
        };
    });
}

void Screens::keepNote(const Wish::Written& written) {
    beside.ask(
        [this, written, file = config.log()]() -> SideWork::Answer {
            auto log = Log::open(file, Log::Access::write);
            const Result<void> done =
                log ? landfall::keepNote(*log, written.student, written.note) : Result<void>(log.error());
            return [this, student = written.student, words = done ? std::string() : done.error().message] {
                if (now == Screen::progress) readLog();
                else readLesson(student);
                if (words.empty()) return;
                if (now == Screen::progress) progressScreen.say(words);
                else studentsScreen.sayOfLesson(words);
            };
        },
        true);
}

// Who plays is called so from now on; the sitting under the old name ends.
void Screens::playsAs(const Wish::StudentChange& change, Wish& wish) {
    using What = Wish::StudentChange::Kind;
    const bool own = ownLog() == config.log();
    const std::string& name = change.kind == What::rename ? change.name : change.into.name;
    if (!own || name.empty() || change.student.name != settings().student) return;
    Settings after = settings();
    after.student = name;
    settingsScreen.use(after);
    wish.newSettings = wish.newStudent = true;
}

// What was deleted for ever, or why not.
std::string Screens::removed(Log& log, const Student& student) {
    const auto gone = removeStudent(log, student);
    if (!gone) return gone.error().message;
    const auto left = leftOf(*gone, log);
    return fmt::format("{} is deleted: {}, {}.{}", student.name, wordsOf(*gone, ", "),
                       soundsOf(gone->takes - gone->takesLeft), left ? " But " + left->message + "." : "");
}

void Screens::changeStudent(const Wish::StudentChange& change) {
    using What = Wish::StudentChange::Kind;
    beside.ask(
        [this, change, file = config.log()]() -> SideWork::Answer {
            auto log = Log::open(file, Log::Access::write);
            if (log && change.kind == What::remove)
                return [this, words = removed(*log, change.student)] { readStudentList(words); };
            Student after = change.student;
            if (change.kind == What::rename) after.name = change.name;
            after.archived = change.kind == What::archive || (after.archived && change.kind == What::rename);
            const Result<void> done = !log                         ? Result<void>(log.error())
                                      : change.kind == What::merge ? mergeStudents(*log, change.student, change.into)
                                                                   : log->change(after);
            return [this, words = done ? std::string() : done.error().message] { readStudentList(words); };
        },
        true);
}

void Screens::readMore() {
    auto asked = progressScreen.toRead();
    if (!asked) return;
    beside.ask([this, log = config.log(), wanted = std::move(*asked)]() -> SideWork::Answer {
        if (wanted.what == ToRead::What::neighbours)
            return [this, wanted, read = std::make_shared<Result<Neighbours>>(readNeighbours(log, wanted))] {
                progressScreen.setNeighbours(wanted, std::move(*read));
                readMore();
            };
        return [this, wanted, read = std::make_shared<Result<ReadTries>>(readTries(log, wanted))] {
            progressScreen.setTries(wanted, std::move(*read));
            readMore();
        };
    });
}

// Saves what is different now.
void Screens::keep(const Settings& before) {
    beside.ask(
        [this, file = config.settingsFile, before, after = settings()]() -> SideWork::Answer {
            const auto saved = saveChanges(file, before, after);
            if (saved) return {};
            return [this, words = saved.error().message] { settingsScreen.say(words); };
        },
        true);
}

void Screens::nameStudent(const std::string& before) {
    beside.ask(
        [this, before, after = settings().student, file = config.log()]() -> SideWork::Answer {
            std::error_code ignored;
            if (!std::filesystem::exists(file, ignored)) return {};
            auto log = Log::open(file, Log::Access::write);
            const Result<void> done = log ? landfall::nameStudent(*log, before, after) : Result<void>(log.error());
            if (done) return {};
            return [this, words = done.error().message] { settingsScreen.say(words); };
        },
        true);
}

std::filesystem::path Screens::ownLog() const { return config.ownLog ? config.ownLog() : config.log(); }

void Screens::changeGuitar(const Wish::GuitarChange& change) {
    using What = Wish::GuitarChange::Kind;
    beside.ask(
        [this, change, file = ownLog()]() -> SideWork::Answer {
            auto log = Log::open(file, Log::Access::write);
            const Result<void> done = !log                           ? Result<void>(log.error())
                                      : change.kind == What::keep    ? keepGuitar(*log, change.guitar)
                                      : change.kind == What::putAway ? putAwayGuitar(*log, change.guitar.name)
                                      : change.kind == What::merge   ? joinGuitar(*log, change.guitar.name, change.name)
                                                                   : nameGuitar(*log, change.guitar.name, change.name);
            if (done) return {};
            return [this, words = done.error().message] { settingsScreen.say(words); };
        },
        true);
}

void Screens::keepCopy(const Drill& drill) {
    beside.ask(
        [this, folder = config.drillsFolder, drill]() -> SideWork::Answer {
            const auto kept = keepDrill(folder, drill);
            if (kept) return {};
            return [this, words = kept.error().message] { drillsScreen.say(words); };
        },
        true);
}

void Screens::openLesson(const std::filesystem::path& file) {
    beside.ask([this, file]() -> SideWork::Answer {
        return [this, file, read = std::make_shared<Result<LessonFile>>(readLessonFile(file))] {
            lessonMaker.opened(file, std::move(*read));
        };
    });
}

// Beside the player's own drills.
void Screens::saveLesson(const Lesson& lesson) {
    beside.ask(
        [this, folder = config.drillsFolder.parent_path() / "lessons", lesson, phrases = lessonMaker.ownPhrases(),
         before = lessonMaker.file()]() -> SideWork::Answer {
            return [this, as = landfall::saveLesson(folder, lesson, phrases, before)] { lessonMaker.saved(as); };
        },
        true);
}

Wish Screens::actHere(const Intent& intent) {
    switch (now) {
        case Screen::practice: break;
        case Screen::start: return startScreen.act(intent);
        case Screen::stringCheck: return stringsScreen.act(intent);
        case Screen::drills: return drillsScreen.act(intent);
        case Screen::progress: return progressScreen.act(intent);
        case Screen::settings: return settingsScreen.act(intent);
        case Screen::students: return studentsScreen.act(intent);
        case Screen::lesson: return lessonMaker.act(intent);
        case Screen::today: return todayScreen.act(intent, settings().todayMinutes);
    }
    return {};
}

Wish Screens::act(const Intent& intent) {
    ++changes;
    const Settings before = settings();
    Wish wish;
    if (intent.kind == Kind::fullScreen || intent.kind == Kind::resized) {
        Settings after = settings();
        after.fullScreen = after.fullScreen != (intent.kind == Kind::fullScreen);
        if (intent.kind == Kind::resized) {
            after.windowWidth = packedWidth(intent.value);
            after.windowHeight = packedHeight(intent.value);
        }
        settingsScreen.use(after);
        keep(before);
        return {};
    }
    if (intent.kind == Kind::dropped) {
        takeLesson(intent.file);
        return {};
    }
    if (intent.kind == Kind::open) {
        // What lies over a list closes with it.
        if (now == Screen::progress && progressScreen.view().opened) wish = progressScreen.act({Kind::less, now, 0});
        // From the progress of a student one comes back to their page.
        if (now == Screen::students) wish = studentsScreen.leave();
        else if (intent.screen != Screen::students) studentsScreen.leave();
        if (now == Screen::drills) drillsScreen.act(intent);
        wish.open = intent.screen;
    } else {
        wish = actHere(intent);
    }
    if (wish.change) playsAs(*wish.change, wish);
    changeSettings(wish);
    if (wish.newSettings) keep(before);
    if (wish.named) nameStudent(*wish.named);
    if (wish.oneTry) carryOut(*wish.oneTry, wish);
    if (wish.play && wish.play->keep) keepCopy(wish.play->drill);
    if (wish.lesson) saveLesson(*wish.lesson);
    if (wish.savedLesson) openLesson(*wish.savedLesson);
    if (wish.play || wish.phrase || wish.task) wish.open = Screen::practice;
    if (wish.today) wish.open = Screen::stringCheck;
    if (wish.open) go(*wish.open, intent.kind != Kind::open);
    if (wish.lookAt) open(Screen::progress, wish.lookAt);
    if (wish.lessonOf) readLesson(*wish.lessonOf);
    if (wish.note) keepNote(*wish.note);
    if (wish.change) changeStudent(*wish.change);
    if (wish.guitarChange) changeGuitar(*wish.guitarChange);
    if (wish.step) startScreen.show(*wish.step);
    if (now == Screen::progress) readMore();
    return wish;
}

void Screens::changeSettings(Wish& wish) {
    if (wish.cautionsSeen || wish.input || wish.guitar || wish.todayMinutes) {
        Settings after = settings();
        if (wish.todayMinutes) after.todayMinutes = *wish.todayMinutes;
        if (wish.cautionsSeen) after.cautionsSeen = today();
        if (wish.guitar) after.guitar = *wish.guitar;
        if (wish.input) {
            after.simulated = wish.input->simulated;
            after.deviceName = wish.input->device;
            after.channel = wish.input->channel;
            wish.newInput = true;
        }
        settingsScreen.use(after);
        wish.newSettings = true;
    }
    if (wish.newSettings) drillsScreen.setGuitar(settings().guitar);
    if (wish.todayMinutes) todayScreen.setMinutes(*wish.todayMinutes);
}

// A string check that the start asked for comes back to it, where it was left by itself.
void Screens::go(Screen screen, bool byItself) {
    if (byItself && now == Screen::stringCheck && screen == Screen::practice && checkFromStart) {
        startScreen.stringsChecked();
        now = Screen::start;
        ear.reset();
    } else {
        checkFromStart = byItself && now == Screen::start && screen == Screen::stringCheck;
        open(screen);
    }
}

void Screens::carryOut(const TryChosen& chosen, Wish& wish) {
    switch (chosen.kind) {
        case TryChosen::Kind::read:
            wish.silence = true;
            readTakeOf(chosen);
            break;
        case TryChosen::Kind::play: wish.sound = take; break;
        case TryChosen::Kind::stop: wish.silence = true; break;
        case TryChosen::Kind::strike:
        case TryChosen::Kind::restore:
            wish.strike = Wish::Strike{chosen.token, chosen.oneTry.number, chosen.oneTry.struck};
            strike(chosen);
            break;
    }
}

void Screens::readTakeOf(const TryChosen& chosen) {
    beside.ask([this, chosen]() -> SideWork::Answer {
        return [this, chosen, read = std::make_shared<const Result<ReadTake>>(readTake(chosen.oneTry, chosen.guitar))] {
            progressScreen.setTake(chosen.sittingId, chosen.oneTry.number, *read);
            studentsScreen.setTake(chosen.sittingId, chosen.oneTry.number, *read);
            if (*read) take = std::shared_ptr<const ReadTake>(read, &read->value());
        };
    });
}

void Screens::strike(const TryChosen& chosen) {
    beside.ask(
        [this, chosen, file = config.log()]() -> SideWork::Answer {
            auto log = Log::open(file, Log::Access::write);
            const Result<void> done = log ? log->setStruck(chosen.sittingId, chosen.oneTry.number, chosen.oneTry.struck)
                                          : Result<void>(log.error());
            return [this, words = done ? std::string() : done.error().message] {
                readLog();  // as it is now
                if (!words.empty()) progressScreen.say(words);
            };
        },
        true);
}

void Screens::poll() {
    if (beside.take()) ++changes;
    // What is plugged in while one waits for it is found without a key.
    const bool waiting =
        now == Screen::start && startScreen.view().step == StartStep::device && config.findDevices && !finding;
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
    progressScreen.played();
    studentsScreen.played();
    ++changes;
}

void Screens::noSoundOutput() {
    if (now == Screen::settings) settingsScreen.say("This input has no sound output of its own. Choose an output.");
    else if (now == Screen::students) studentsScreen.cannotPlay();
    else progressScreen.cannotPlay();
    ++changes;
}

void Screens::fill(Snapshot& snapshot) const {
    snapshot.screen = now;
    snapshot.window = {settings().windowWidth, settings().windowHeight, settings().fullScreen};
    snapshot.dark = isDark(settings());
    snapshot.textSize = std::clamp(settings().textSize, 1.0, 1.5);
    snapshot.keys = keyMapOf(settings());
    snapshot.start = now == Screen::start ? startScreen.view() : Start{};
    if (now == Screen::start) {
        snapshot.start.neck = neckOf(settings().guitar);
        const auto places = placesOn(builtInDrills().front(), settings().guitar).places;
        if (!places.empty()) snapshot.start.neck.place = places.front();
    }
    snapshot.strings = now == Screen::stringCheck ? stringsScreen.view() : Strings{};
    snapshot.drills = now == Screen::drills ? drillsScreen.view() : DrillList{};
    snapshot.progress = now == Screen::progress ? progressScreen.view() : ProgressPages{};
    if (lookedAt && now == Screen::progress) snapshot.progress.whose = lookedAt->name;
    snapshot.students = now == Screen::students ? studentsScreen.view() : StudentList{};
    snapshot.lesson = now == Screen::lesson ? lessonMaker.view() : SettingList{};
    snapshot.settings = now == Screen::settings ? settingsScreen.view() : SettingList{};
    snapshot.today = now == Screen::today ? todayScreen.view() : Today{};
    if (!snapshot.start.inputs.empty() && settings().simulated)
        snapshot.start.inputs.back().level = snapshot.input.level;
}

}  // namespace landfall
