#include "src/store/log_schema.h"

#include <fmt/core.h>

#include "src/store/logged_try.h"

namespace landfall {

const char* const newUuid =
    "lower(hex(randomblob(4)) || '-' || hex(randomblob(2)) || '-4' || substr(hex(randomblob(2)), 2) || '-' || "
    "substr('89ab', 1 + (random() & 3), 1) || substr(hex(randomblob(2)), 2) || '-' || hex(randomblob(6)))";

namespace {

std::string triesSchema() {
    std::string sql = "CREATE TABLE try(sitting INTEGER NOT NULL REFERENCES sitting(id)";
    for (const TryColumn& column : tryColumns())
        if (column.sinceSchema == 1) sql += fmt::format(", {} {}", column.name, column.sqlType);
    return sql + ", PRIMARY KEY(sitting, number)) WITHOUT ROWID";
}

std::vector<std::string> toFirst() {
    return {"CREATE TABLE student(id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE)",
            "CREATE TABLE guitar(id INTEGER PRIMARY KEY, name TEXT NOT NULL, tuning TEXT NOT NULL, capo INTEGER NOT "
            "NULL, highest_fret INTEGER NOT NULL, left_handed INTEGER NOT NULL, a4_hz REAL NOT NULL)",
            "CREATE TABLE sitting(id INTEGER PRIMARY KEY AUTOINCREMENT, token INTEGER NOT NULL UNIQUE, "
            "student INTEGER NOT NULL REFERENCES student(id), guitar INTEGER NOT NULL REFERENCES guitar(id), "
            "started_ms INTEGER NOT NULL, software TEXT NOT NULL)",
            triesSchema()};
}

// What was heard, and the rest of the guitar; NULL: not known of a sitting of schema 1.
std::vector<std::string> toSecond() {
    return {"ALTER TABLE sitting ADD COLUMN input TEXT NOT NULL DEFAULT ''",
            "ALTER TABLE guitar ADD COLUMN gauges_inch TEXT", "ALTER TABLE guitar ADD COLUMN plain_strings INTEGER",
            "ALTER TABLE guitar ADD COLUMN scale_mm REAL"};
}

// Students and guitars have an identity of their own, tasks and curves are kept, and figures of whole sittings need not
// be counted anew each time: they go when a try of the sitting changes, whoever changes it.
std::vector<std::string> toFourth() {
    const std::string uuid = newUuid;
    std::vector<std::string> steps{
        R"(CREATE TABLE student_now(id INTEGER PRIMARY KEY, uuid TEXT NOT NULL UNIQUE, name TEXT NOT NULL,
           archived INTEGER NOT NULL DEFAULT 0))",
        "INSERT INTO student_now(id, uuid, name) SELECT id, " + uuid + ", name FROM student",
        "DROP TABLE student",
        "ALTER TABLE student_now RENAME TO student",
        "ALTER TABLE guitar ADD COLUMN uuid TEXT",
        "UPDATE guitar SET uuid = " + uuid,
        "CREATE UNIQUE INDEX guitar_uuid ON guitar(uuid)",
        "ALTER TABLE guitar ADD COLUMN archived INTEGER NOT NULL DEFAULT 0",
        "ALTER TABLE sitting ADD COLUMN stiffness TEXT NOT NULL DEFAULT ''",
        "CREATE INDEX sitting_of_student ON sitting(student, started_ms)",
        R"(CREATE TABLE task(id INTEGER PRIMARY KEY, kind TEXT NOT NULL, name TEXT NOT NULL, content TEXT NOT NULL,
           hash TEXT NOT NULL))",
        "CREATE INDEX task_hash ON task(hash)",
        "ALTER TABLE try ADD COLUMN task INTEGER REFERENCES task(id)",
        R"(CREATE TABLE curve(sitting INTEGER NOT NULL, number INTEGER NOT NULL, points BLOB NOT NULL,
           PRIMARY KEY(sitting, number), FOREIGN KEY(sitting, number) REFERENCES try(sitting, number)))",
        R"(CREATE TABLE figures(sitting INTEGER NOT NULL, gesture TEXT NOT NULL, rules INTEGER NOT NULL, drills TEXT,
           tries INTEGER, guided INTEGER, not_counted INTEGER, counted INTEGER, inside INTEGER, lost INTEGER,
           other_note INTEGER, typical_miss_cents REAL, typical_error_cents REAL, typical_linger_s REAL,
           PRIMARY KEY(sitting, gesture)) WITHOUT ROWID)"};
    for (const auto& [event, row] : {std::pair{"INSERT", "new"}, {"UPDATE", "new"}, {"DELETE", "old"}})
        steps.push_back(fmt::format(
            "CREATE TRIGGER figures_after_{0} AFTER {0} ON try BEGIN DELETE FROM figures WHERE sitting = {1}.sitting; "
            "END",
            event, row));
    return steps;
}

// A student that was merged into another one: who comes under the old UUID later is known.
std::vector<std::string> toFifth() {
    return {
        "CREATE TABLE former(uuid TEXT PRIMARY KEY, student INTEGER NOT NULL REFERENCES student(id)) WITHOUT ROWID"};
}

// What teachers asked, one lesson of each title.
std::vector<std::string> toSixth() {
    return {
        "CREATE TABLE lesson(student INTEGER NOT NULL REFERENCES student(id), title TEXT NOT NULL, received_ms "
        "INTEGER NOT NULL, content TEXT NOT NULL, put_away INTEGER NOT NULL DEFAULT 0, PRIMARY KEY(student, "
        "title)) WITHOUT ROWID"};
}

// What was written of a try, of a sitting, or of a lesson with the student, which is no sitting.
std::vector<std::string> toSeventh() {
    return {
        "CREATE TABLE note(uuid TEXT PRIMARY KEY, student INTEGER NOT NULL REFERENCES student(id), sitting INTEGER "
        "REFERENCES sitting(id), number INTEGER, written_ms INTEGER NOT NULL, text TEXT NOT NULL, FOREIGN KEY(sitting, "
        "number) REFERENCES try(sitting, number)) WITHOUT ROWID",
        "CREATE INDEX note_of_student ON note(student, written_ms)", "CREATE INDEX note_of_sitting ON note(sitting)"};
}

// How a guitar is set up; 0: not told.
std::vector<std::string> toEighth() {
    return {"ALTER TABLE guitar ADD COLUMN radius_mm REAL NOT NULL DEFAULT 0",
            "ALTER TABLE guitar ADD COLUMN action_mm REAL NOT NULL DEFAULT 0"};
}

}  // namespace

std::vector<std::string> stepFrom(int version) {
    if (version == 0) return toFirst();
    std::vector<std::string> steps;
    if (version == 1) steps = toSecond();
    if (version == 3) steps = toFourth();
    if (version == 4) steps = toFifth();
    if (version == 5) steps = toSixth();
    if (version == 6) steps = toSeventh();
    if (version == 7) steps = toEighth();
    for (const TryColumn& column : tryColumns())
        if (column.sinceSchema == version + 1)
            steps.push_back(fmt::format("ALTER TABLE try ADD COLUMN {} {}", column.name, column.sqlType));
    return steps;
}

}  // namespace landfall
