// Whose practice a log holds and on which guitars: who there is, two that were one, and really deleting. Plain
// functions, on the log's thread; each change is one transaction.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "src/store/log.h"

namespace landfall {

constexpr std::size_t longestStudentName = 60;  // characters: it must stand on one line of a window

struct StudentEntry {
    Student student;
    int sittings = 0;
    std::optional<CalendarTime> last;  // when the last one began
};
Result<std::vector<StudentEntry>> studentEntries(Log& log);  // by name, the archived ones last

// Whose name this is, upper and lower case alike, or whose UUID begins so (eight characters and more). Fails with those
// that there are.
Result<Student> findStudent(Log& log, const std::string& who);

// Whether a new student may have the name, and why not: it is somebody's, empty, or too long.
Result<void> checkNewName(Log& log, const std::string& name);

// The student of the first name is the one of the second from now on; one with whoever has that name already. Nothing
// where the log has nobody of the first name.
Result<void> nameStudent(Log& log, const std::string& from, const std::string& to);

// What was played by `from` is then played by `into`, who is known by the UUID of `from` too.
Result<void> mergeStudents(Log& log, const Student& from, const Student& into);

// What is a student's alone.
struct StudentsShare {
    int sittings = 0, tries = 0;
    int takes = 0;             // kept sounds
    int takesLeft = 0;         // that could not be deleted
    bool overwritten = false;  // nothing of it is left in the file's pages
};
Result<StudentsShare> shareOf(Log& log, const Student& student);
// Deletes it: rows, curves, kept sounds, and guitars and tasks that were nobody else's. The pages that held it are
// overwritten, for which no other program may have the log open; backups are another matter.
Result<StudentsShare> removeStudent(Log& log, const Student& student);
// What of it is still there, and what to do then; none: nothing.
std::optional<Error> leftOf(const StudentsShare& share, const Log& log);
std::string wordsOf(const StudentsShare& share, std::string_view between);  // "5 sittings, 120 tries"
std::string soundsOf(int takes);                                            // "3 kept sounds"

// A guitar as it was at a time; one that was changed has a row for each.
struct GuitarEntry {
    std::string uuid;
    Guitar guitar;
    bool archived = false;
    int sittings = 0;
    std::optional<CalendarTime> last;
};
// As it is now first: one that was not played since; then the latest played; the archived ones last. With the stiffness
// that was known of its strings.
Result<std::vector<GuitarEntry>> guitarEntries(Log& log);
// The guitar as it is now is in the log from here on, and is archived no longer.
Result<void> keepGuitar(Log& log, const Guitar& guitar);
// All rows of the guitar with this name; how many. Fails where there is none, or one of the new name already.
Result<int> renameGuitar(Log& log, const std::string& name, const std::string& to);
// Of two names for one guitar: what was played under `name` is `into`'s. Fails where either is not there.
Result<int> mergeGuitars(Log& log, const std::string& name, const std::string& into);
Result<int> archiveGuitar(Log& log, const std::string& name, bool archived);
// Fails where something was played on it: then it can be archived.
Result<void> removeGuitar(Log& log, const std::string& name);
// As those above, of the guitar in hand, which the log need not have: archived, or deleted where it was never played.
Result<void> nameGuitar(Log& log, const std::string& name, const std::string& to);
Result<void> joinGuitar(Log& log, const std::string& name, const std::string& into);
Result<void> putAwayGuitar(Log& log, const std::string& name);

}  // namespace landfall
