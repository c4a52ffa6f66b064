// One student as their teacher opens them before a lesson: what happened since the last one, three tries to hear,
// homework, and notes that are written here. One thread, the trainer's; what it shows is read elsewhere and handed in.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "gui/intent.h"
#include "gui/snapshot.h"
#include "src/app/screens/opened_try.h"
#include "src/app/screens/progress_reading.h"
#include "src/app/screens/wish.h"
#include "src/review/lesson_review.h"

namespace landfall {

class LessonScreen {
public:
    explicit LessonScreen(Student whose);

    Wish act(const Intent& intent);
    bool isLeft() const { return left; }  // the list of students comes back
    const Student& student() const { return whose; }
    const LessonPage& view() const { return shown; }

    void set(Result<LessonReview> read);
    void say(std::string message);
    // As ProgressScreen's.
    void setTake(std::int64_t sittingId, int number, const Result<ReadTake>& take);
    void played();
    void cannotPlay();

private:
    enum class Part { lesson, sitting, oneTry, note };
    struct Place {
        Part part = Part::lesson;
        std::size_t index = 0;
    };
    Place place() const;
    int count() const;
    const Example* chosenTry() const;
    const SittingSummary* sittingOf(std::int64_t id) const;
    KeptNote noteHere() const;
    Wish choose();
    Wish openTry();
    Wish actOpened(const Intent& intent);
    std::optional<TryChosen> wanted(TryChosen::Kind what) const;
    void beginNote(KeptNote about);
    Wish actTyping(const Intent& intent);
    void refresh();
    void refreshOpened();

    Student whose;
    LessonReview log;
    bool isRead = false, left = false;
    int selected = 0;
    bool opened = false;
    TrySound sound;  // of the opened try
    std::optional<std::string> typing;
    KeptNote typedFor;
    std::string message;
    LessonPage shown;
};

}  // namespace landfall
