// All students of the log as their teacher needs them, those first who need a look. One thread, the trainer's; what it
// shows is read elsewhere and handed in.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "gui/intent.h"
#include "gui/snapshot.h"
#include "src/app/screens/lesson_screen.h"
#include "src/app/screens/wish.h"
#include "src/review/glance.h"
#include "src/store/students.h"

namespace landfall {

class StudentsScreen {
public:
    Wish act(const Intent& intent);
    const StudentList& view() const { return shown; }

    void reading(std::string whoPlays);
    void say(std::string message);
    // Who was read before stays known until read again.
    void setStudents(std::vector<StudentEntry> entries);
    // The page of one student, where it is open.
    const LessonScreen* lesson() const { return open ? &*open : nullptr; }
    void setLesson(const Student& of, Result<LessonReview> read);
    void setTake(std::int64_t sittingId, int number, const Result<ReadTake>& take);
    void sayOfLesson(std::string message);
    // Another screen comes.
    Wish leave();
    void played();
    void cannotPlay();

    // Whose review is to be read next, each once.
    std::optional<Student> toRead();
    // The list is put in order when the last one is in, so that nothing jumps while one looks.
    void setGlance(Glance glance);

private:
    struct Row {
        StudentEntry entry;
        std::optional<Glance> glance;
        bool asked = false;
    };
    enum class Asking { nothing, name, into, sureToMerge, sureToDelete, nameToDelete };
    const Student& chosen() const { return rows[static_cast<std::size_t>(selected)].entry.student; }
    Wish actAsked(const Intent& intent);
    Wish actOnList(const Intent& intent);
    Wish renamed();
    void askToDelete();
    void move(int by);
    void refresh();
    void refreshQuestion();

    std::vector<Row> rows;  // the archived ones last
    int selected = 0;
    Asking asking = Asking::nothing;
    std::string typed;   // the new name, or that of who is deleted
    StudentEntry asked;  // who is to be changed
    std::string plays;   // the name in the settings
    std::string message;
    std::optional<LessonScreen> open;
    StudentList shown;
};

}  // namespace landfall
