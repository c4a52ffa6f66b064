// What a key on a screen asks of the other screens, of the settings, and of the trainer. Plain values.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>

#include "gui/snapshot.h"
#include "src/app/screens/progress_reading.h"
#include "src/music/drill.h"
#include "src/music/lesson.h"
#include "src/music/line.h"
#include "src/store/notes.h"

namespace landfall {

// An input that may be chosen.
struct InputChosen {
    bool simulated = false;
    std::string device{};  // SoundDevice::label; empty: the system's choice
    int channel = 1;
};

// A drill to be played now.
struct DrillChosen {
    Drill drill;
    bool keep = false;        // a changed copy: keep it with keepDrill
    bool heavyAsked = false;  // the player has read that it is hard on the hand and wants it all the same
};

// What is to be done with one try of the log.
struct TryChosen {
    enum class Kind {
        read,  // readTake, then setTake; a sound still playing ends
        play,
        stop,  // its sound; played() when it is over
        // in the log: through the sitting's own writer where it is the one being written (same token), else
        // Log::setStruck
        strike,
        restore
    };
    Kind kind = Kind::read;
    std::int64_t sittingId = 0, token = 0;
    Guitar guitar;
    LoggedTry oneTry;
};

struct Wish {
    // What Screens does with it: the trainer finds the outcome below.
    std::optional<Screen> open{};
    std::optional<StartStep> step{};     // of the start screen, this one alone
    bool cautionsSeen = false;           // read and accepted: the day goes into the settings
    std::optional<InputChosen> input{};  // in place of the one in use
    std::optional<Guitar> guitar{};      // the same
    std::optional<TryChosen> oneTry{};
    std::optional<Student> lookAt{};    // whose progress opens
    std::optional<Student> lessonOf{};  // whose lesson page is to be read
    struct StudentChange {
        enum class Kind { rename, archive, back, merge, remove };
        Kind kind = Kind::rename;
        Student student;
        std::string name{};  // rename
        Student into{};      // merge
    };
    std::optional<StudentChange> change{};  // in the log, then the list is read again
    struct Written {
        Student student;
        KeptNote note;
    };
    std::optional<Written> note{};      // to be kept, then the lesson page read again
    std::optional<int> todayMinutes{};  // how long Today lasts from now on
    // Of a guitar in the log: it is kept as it is now; has another name; is one with another; is archived, or, never
    // played, deleted.
    struct GuitarChange {
        enum class Kind { keep, rename, merge, putAway };
        Kind kind = Kind::keep;
        Guitar guitar;
        std::string name{};  // rename; merge: the one that stays
    };
    std::optional<GuitarChange> guitarChange{};
    std::optional<Lesson> lesson{};                      // a teacher's, to be saved as a file
    std::optional<std::filesystem::path> savedLesson{};  // to be read, then opened in the lesson maker
    std::optional<std::string> named{};  // the settings' student, who was called this until now: in the log too

    // The trainer's.
    std::optional<DrillChosen> play{};  // on the practice screen, which is open then
    std::optional<Line> phrase{};       // the same
    std::optional<LessonTask> task{};   // the same, with what the teacher asks of it
    bool today = false;                 // Today begins, with the string check, which is open then
    bool newSettings = false;           // the settings are others now: aim, target, feedback, guitar, sound ...
    bool newInput = false;              // open the input and output that they name
    // this sitting ends; the next is of the student, and in the log, that they name
    bool newStudent = false;
    bool testTone = false;
    bool silence = false;                     // a recording that plays ends
    std::shared_ptr<const ReadTake> sound{};  // play it; soundOver() at its end
    struct Strike {
        std::int64_t token = 0;
        int number = 0;
        bool struck = false;
    };
    // where the token is this sitting's: the writer's own copy too. The log is done here
    std::optional<Strike> strike{};
};

}  // namespace landfall
