// The screens beside Practice as the trainer meets them: which one is open, what a key asks for there, what is read and
// saved beside the trainer's thread. All calls on the trainer's thread; none waits for a disk or a device.
#pragma once

#include <chrono>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <span>

#include "src/app/screens/drills_screen.h"
#include "src/app/screens/lesson_maker.h"
#include "src/app/screens/progress_screen.h"
#include "src/app/screens/settings_screen.h"
#include "src/app/screens/side_work.h"
#include "src/app/screens/start_screen.h"
#include "src/app/screens/strings_screen.h"
#include "src/app/screens/students_screen.h"
#include "src/app/screens/today_screen.h"

namespace landfall {

struct ScreensConfig {
    std::filesystem::path settingsFile, drillsFolder;
    // where sittings are kept now; asked on the trainer's thread
    std::function<std::filesystem::path()> log;
    // slow; runs beside. Empty: the input is not to be chosen (a file)
    std::function<Result<std::vector<SoundDevice>>()> findDevices;
    // whose tries are logged now, where that is not the settings' student
    std::function<std::string()> student{};
    std::filesystem::path phrasesFolder{};  // of the player's own
    // the log of the settings' student, where that is not the one that sittings are kept in now
    std::function<std::filesystem::path()> ownLog{};
};

// Of what was found, what a player may choose.
std::vector<SoundDevice> offered(const std::vector<DeviceInfo>& devices);
// What can be heard or played through. Slow; from any thread.
Result<std::vector<SoundDevice>> soundDevices();

class Screens {
public:
    // `settings` as they are in use, the command line's words among them (`simulated` where the simulated player was
    // asked for). Opens the start screen until the cautions have been seen.
    Screens(ScreensConfig config, const Settings& settings);

    // Intents of Practice itself (again, next, discard, see) are the trainer's.
    Wish act(const Intent& intent);
    // Takes in what was read or found meanwhile. To be called often.
    void poll();
    // What was to be written is on the disk afterwards; nothing may be asked of the screens any more.
    void end() { beside.end(); }
    // Samples heard while the string check is open; `rate` in Hz.
    void hear(std::span<const float> samples, double rate);
    // An input is being chosen: what is said of the one in use is beside the point, and nobody plays.
    bool choosesInput() const { return now == Screen::start && startScreen.view().step == StartStep::device; }
    // While one is chosen all inputs are to be metered, anew with every other number; 0: none is.
    unsigned long toMeter() const { return now == Screen::start ? startScreen.toMeter() : 0; }
    // The held peaks of all that is heard, while the inputs are looked at.
    void levels(const std::vector<InputLevels>& heard);
    void soundOver();
    void noSoundOutput();  // for what was to be played
    // So many tries of the sitting are in the log; to be called often. Progress, where it is open, is read anew.
    void logged(int tries);

    Screen screen() const { return now; }
    // `student`: whose progress, where it is not the player's own.
    void open(Screen screen, std::optional<Student> student = {});
    const Settings& settings() const { return settingsScreen.settings(); }
    // The string that the check waits for; 0: none.
    int askedString() const { return now == Screen::stringCheck ? stringsScreen.asked() : 0; }
    // What the log says of today; read anew by readToday(), beside, which is over once `readsToday` is false.
    void readToday();
    bool readsToday() const { return todayReads > 0; }
    const ReadToday& todayRead() const { return todayScreen.read(); }
    // What Today came to; its screen opens.
    void todayEnded(std::vector<TodayRow> parts, std::string toKeep);

    DrillChosen drillAfter(const std::string& name) const { return drillsScreen.after(name); }

    // Grows with every change of what is shown.
    unsigned long version() const { return changes; }
    // Everything but practice, input and notices; of the lists only the one that is open. Takes the simulated player's
    // level from the snapshot.
    void fill(Snapshot& snapshot) const;

private:
    Wish actHere(const Intent& intent);
    void changeSettings(Wish& wish);
    void carryOut(const TryChosen& chosen, Wish& wish);
    void go(Screen screen, bool byItself);
    void keep(const Settings& before);
    void lookForDevices();
    void findDevices();
    void readDrills(const std::filesystem::path& log);  // empty: without what next
    std::string whoPlays() const;
    void readLog();
    void readStudentList(const std::string& trouble = {});  // what is to be said once it is read
    void readNextGlance();
    void readLesson(const Student& student);
    void keepNote(const Wish::Written& written);
    void playsAs(const Wish::StudentChange& change, Wish& wish);
    std::filesystem::path ownLog() const;
    void changeGuitar(const Wish::GuitarChange& change);
    void changeStudent(const Wish::StudentChange& change);
    static std::string removed(Log& log, const Student& student);
    void readMore();  // of it, as long as there is something to be read
    void readTakeOf(const TryChosen& chosen);
    void strike(const TryChosen& chosen);
    void takeLesson(const std::filesystem::path& file);
    void keepCopy(const Drill& drill);
    void saveLesson(const Lesson& lesson);
    void openLesson(const std::filesystem::path& file);
    void nameStudent(const std::string& before);
    InputChosen inputInUse() const;

    ScreensConfig config;
    Screen now = Screen::practice;
    bool checkFromStart = false;  // the string check goes back to the start screen
    DrillsScreen drillsScreen;
    LessonMaker lessonMaker;
    ProgressScreen progressScreen;
    SettingsScreen settingsScreen;
    StartScreen startScreen;
    StringsScreen stringsScreen;
    StudentsScreen studentsScreen;
    std::optional<Student> lookedAt;  // whose progress is shown, where it is not the player's own
    TodayScreen todayScreen;
    int todayReads = 0;                // under way
    int triesLogged = 0;               // of the sitting
    std::unique_ptr<HeldNoteEar> ear;  // while the string check is open
    std::shared_ptr<const ReadTake> take;
    bool finding = false;  // devices are being looked for
    std::chrono::steady_clock::time_point foundAt{};
    unsigned long changes = 1;
    SideWork beside;  // last: its answers use the rest
};

}  // namespace landfall
