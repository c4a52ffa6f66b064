// Today as a screen: the homework, what was done beside what was asked, what next, and after Today what it came to. One
// thread, the trainer's; reads and writes no file.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "gui/intent.h"
#include "gui/snapshot.h"
#include "src/app/screens/wish.h"
#include "src/music/guitar.h"
#include "src/review/homework.h"

namespace landfall {

// What the log says of today: read beside the trainer's thread.
struct ReadToday {
    std::vector<Homework> homework;
    std::optional<Drill> whatNext;
    std::optional<LessonTask> phrase;  // what next in a line, its reason as the note
    std::string problem;               // why the log cannot be read; else empty
};
// `student` as the log calls them; where there is no log, or nobody of that name, nothing. `phrases`: the folder of the
// player's own; empty: none.
ReadToday readToday(const std::filesystem::path& log, const std::string& student, const Guitar& guitar,
                    const std::filesystem::path& phrases);

class TodayScreen {
public:
    TodayScreen() { refresh(); }

    // First row: Today itself; less and more change its length. Then each task, to be played by itself, and what next.
    Wish act(const Intent& intent, int minutes);
    void setMinutes(int given);
    void set(ReadToday read);
    // What Today came to: shown until a key is pressed.
    void ended(std::vector<TodayRow> parts, std::string toKeep);
    // Said above the list until something else is.
    void say(std::string message);

    const Today& view() const { return shown; }
    const ReadToday& read() const { return known; }

private:
    void refresh();
    std::vector<const LessonTask*> tasks() const;

    ReadToday known;
    int minutes = 20;
    Today shown;
};

}  // namespace landfall
