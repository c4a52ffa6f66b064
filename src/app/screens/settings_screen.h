// The settings as rows that take effect at once, in groups of which one is unfolded: guitar, practice, hands full, keys,
// sound, screen, log. One thread, the trainer's; reads and writes no file.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "gui/intent.h"
#include "gui/snapshot.h"
#include "src/app/screens/wish.h"
#include "src/formats/settings_file.h"
#include "src/store/students.h"

namespace landfall {

// A sound device as the settings offer it.
struct SoundDevice {
    std::string label;          // as DeviceInfo::label gives it; what the settings keep
    int inputs = 1;             // channels
    bool systemChoice = false;  // what is heard where the settings name none
    int outputs = 0;            // channels
};

class SettingsScreen {
public:
    explicit SettingsScreen(Settings settings);

    Wish act(const Intent& intent);
    const SettingList& view() const { return list; }
    const Settings& settings() const { return now; }

    // Changed elsewhere: an input chosen at the start, a tuning found by the string check.
    void use(Settings settings);
    // Who is in the log, and what can be heard and played through; what is being used is always among them.
    void setStudents(std::vector<std::string> names);
    void setGuitars(const std::vector<GuitarEntry>& entries);
    void setDevices(std::vector<SoundDevice> found);
    void say(std::string message);

private:
    struct Row {
        std::string label, value;
        std::function<Wish(int)> step;  // empty: nothing to change to the left and right
        std::function<Wish()> choose;   // empty: the same as a step to the right
    };
    void build();
    void refresh();
    // A group's own row, and those that follow it; `summary` says what is in it.
    struct Group {
        std::string name, summary;
        std::vector<Row> rows{};
    };
    // A line of the list: a group's own, or one of its rows.
    struct Line {
        std::size_t group = 0;
        std::optional<std::size_t> row{};
    };
    void beginGroup(std::string name, std::string summary);
    void add(std::string label, std::string value, std::function<Wish(int)> step, std::function<Wish()> choose = {});
    void showOnly(std::size_t group, bool unfold);
    Wish actOn(Line line, const Intent& intent);
    void addGuitar();
    void addPractice();
    void addHandsFull();
    void addKeys();
    void addInput();
    void addOutput();
    void addScreen();
    void addLog();
    Wish learned(int key);
    Wish studentTyped(const std::string& name);
    Wish typedIn();
    // settings_guitar.cpp
    void addTuning();
    void addSetUp();
    void addOtherGuitars();
    Wish guitarChanged(const Guitar& wanted);
    Wish takeUp(Guitar other);
    Wish nextGuitar(int by);
    Wish guitarNamed(const std::string& name);
    Wish guitarRenamed(const std::string& name);
    Wish guitarIs(const std::string& name);
    Wish putAway();
    Wish setUpTyped(const std::string& text);
    void ofGuitar(std::string label, std::string value, std::function<void(Guitar&, int)> change,
                  std::function<Wish()> choose = {});
    enum class Typed { student, log, guitar, guitarName, sameGuitar, gauges, scale, radius, action };
    Wish type(Typed what, std::string before, std::string how);

    Settings now;
    std::vector<std::string> students;
    struct KnownGuitar {
        Guitar guitar;  // as it is now
        bool archived = false, played = false;
    };
    std::vector<KnownGuitar> guitars;  // in the log; the one in hand may not be among them
    std::vector<SoundDevice> devices;
    std::vector<Group> groups;
    std::vector<Line> lines;              // those shown
    std::optional<std::size_t> unfolded;  // group
    int selected = 0;                     // line
    bool eachString = false;              // the tuning, string by string
    int LearnedKeys::*learning = nullptr;
    std::optional<std::string> typing;  // what is asked for, as typed so far
    Typed typedFor = Typed::student;
    std::string message;
    SettingList list;
};

// What the window wants to know of the settings.
KeyMap keyMapOf(const Settings& settings);
bool isDark(const Settings& settings);

}  // namespace landfall
