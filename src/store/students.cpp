#include "src/store/students.h"

#include <algorithm>
#include <system_error>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "src/music/name_match.h"
#include "src/practice/words.h"
#include "src/store/log_schema.h"
#include "src/store/sql.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

std::optional<CalendarTime> timeIn(Statement& row, int column) {
    if (!row.isFilled(column)) return {};
    return CalendarTime(std::chrono::milliseconds(row.whole(column)));
}

int count(Connection& sql, const std::string& what, const std::string& uuid) {
    Statement row(sql.handle(), "SELECT count(*) FROM " + what);
    return row.bind(uuid).next() ? static_cast<int>(row.whole(0)) : 0;
}

constexpr const char* ofStudent =
    "sitting IN (SELECT s.id FROM sitting s JOIN student p ON p.id = s.student WHERE "
    "p.uuid = ?)";

StudentsShare countShare(Connection& sql, const std::string& uuid) {
    return {.sittings = count(sql, "sitting s JOIN student p ON p.id = s.student WHERE p.uuid = ?", uuid),
            .tries = count(sql, fmt::format("try WHERE {}", ofStudent), uuid),
            .takes = count(sql, fmt::format("try WHERE take_file <> '' AND {}", ofStudent), uuid)};
}

std::vector<std::filesystem::path> takesOf(Connection& sql, const Log& log, const std::string& uuid) {
    Statement row(sql.handle(), fmt::format("SELECT take_file FROM try WHERE take_file <> '' AND {}", ofStudent));
    row.bind(uuid);
    std::vector<std::filesystem::path> takes;
    while (row.next()) takes.push_back(log.folder() / row.text(0));
    return takes;
}

// Nothing but sounds, whatever the log says; then their folders, where they are empty.
int deleteTakes(const std::vector<std::filesystem::path>& takes) {
    int left = 0;
    for (const std::filesystem::path& take : takes) {
        std::error_code failed;
        if (take.extension() != ".flac"
            || std::filesystem::symlink_status(take, failed).type() != std::filesystem::file_type::regular)
            continue;
        if (!std::filesystem::remove(take, failed)) ++left;
        std::filesystem::remove(take.parent_path(), failed);
    }
    return left;
}

void deleteRows(Connection& sql, const std::string& uuid) {
    std::vector<std::int64_t> guitars;
    Statement theirs(sql.handle(),
                     "SELECT DISTINCT guitar FROM sitting WHERE student = (SELECT id FROM student WHERE uuid = ?)");
    for (theirs.bind(uuid); theirs.next();) guitars.push_back(theirs.whole(0));
    theirs.finish();
    const auto run = [&](const std::string& statement) {
        Statement change(sql.handle(), statement);
        change.bind(uuid).finish();
    };
    run("DELETE FROM note WHERE student = (SELECT id FROM student WHERE uuid = ?)");
    for (const char* table : {"curve", "figures", "try"}) run(fmt::format("DELETE FROM {} WHERE {}", table, ofStudent));
    run("DELETE FROM sitting WHERE student = (SELECT id FROM student WHERE uuid = ?)");
    run("DELETE FROM lesson WHERE student = (SELECT id FROM student WHERE uuid = ?)");
    run("DELETE FROM former WHERE student = (SELECT id FROM student WHERE uuid = ?)");
    run("DELETE FROM student WHERE uuid = ?");
    sql.run("DELETE FROM task WHERE id NOT IN (SELECT task FROM try WHERE task IS NOT NULL)");
    sql.run(fmt::format("DELETE FROM guitar WHERE id IN ({}) AND id NOT IN (SELECT guitar FROM sitting)",
                        fmt::join(guitars, ", ")));
}

// What was deleted is overwritten where it lay, once the write-ahead log is folded in; packing the file anew is done if
// it can be.
bool overwrite(Connection& sql) {
    bool folded = sql.number("PRAGMA wal_checkpoint(TRUNCATE)") == 0;
    try {
        sql.run("VACUUM");
        folded = sql.number("PRAGMA wal_checkpoint(TRUNCATE)") == 0;
    } catch (const SqlFailure& failure) {
        if (failure.isDamage()) throw;
    }
    return folded;
}

void deleteUnplayed(Connection& sql, const std::string& guitar) {
    Statement gone(sql.handle(), "DELETE FROM guitar WHERE name = ? AND id NOT IN (SELECT guitar FROM sitting)");
    gone.bind(guitar).finish();
}

Result<int> changeGuitars(Log& log, const std::string& name, const std::string& set, const Cell& value) {
    int changed = 0;
    const auto done = log.withSql([&](Connection& sql) {
        Statement change(sql.handle(), fmt::format("UPDATE guitar SET {} = ? WHERE name = ?", set));
        change.bind(value).bind(name).finish();
        changed = sql.changes();
    });
    if (!done) return done.error();
    if (changed > 0) return changed;
    const auto known = guitarEntries(log);
    if (!known) return known.error();
    std::vector<std::string> names;
    for (const GuitarEntry& each : *known)
        if (std::ranges::find(names, each.guitar.name) == names.end()) names.push_back(each.guitar.name);
    return Error{Error::Code::notFound,
                 names.empty()
                     ? fmt::format("there is no guitar '{}' in the log yet: it is empty", name)
                     : fmt::format("there is no guitar '{}' in the log: it has {}", name, fmt::join(names, ", "))};
}

}  // namespace

Result<std::vector<StudentEntry>> studentEntries(Log& log) {
    std::vector<StudentEntry> found;
    const auto read = log.withSql([&](Connection& sql) {
        Statement row(sql.handle(),
                      "SELECT p.uuid, p.name, p.archived, count(s.id), max(s.started_ms) FROM student p "
                      "LEFT JOIN sitting s ON s.student = p.id GROUP BY p.id ORDER BY p.archived, "
                      "p.name, p.id");
        while (row.next())
            found.push_back(
                {{row.text(0), row.text(1), row.whole(2) != 0}, static_cast<int>(row.whole(3)), timeIn(row, 4)});
    });
    if (!read) return read.error();
    return found;
}

Result<Student> findStudent(Log& log, const std::string& who) {
    const auto known = log.students();
    if (!known) return known.error();
    std::vector<Student> meant;
    std::vector<std::string> names;
    for (const Student& each : *known) {
        names.push_back(each.name);
        const bool byUuid = who.size() >= 8 && each.uuid.starts_with(who);
        if (byUuid || matchKey(each.name) == matchKey(who)) meant.push_back(each);
    }
    if (meant.size() == 1) return meant.front();
    if (known->empty())
        return Error{Error::Code::notFound, fmt::format("there is no student '{}' in the log yet: it is empty", who)};
    if (meant.empty())
        return Error{Error::Code::notFound,
                     fmt::format("there is no student '{}' in the log: it has {}", who, fmt::join(names, ", "))};
    names.clear();
    for (const Student& each : meant) names.push_back(each.uuid.substr(0, 8));
    return Error{Error::Code::badInput, fmt::format("{} students are called '{}': write one of {} instead of the name",
                                                    meant.size(), who, fmt::join(names, ", "))};
}

Result<void> checkNewName(Log& log, const std::string& name) {
    if (matchKey(name).empty() || characterCount(name) > longestStudentName)
        return Error{Error::Code::badInput,
                     fmt::format("'{}' is not a name: write letters or digits, {} characters at the most",
                                 name.substr(0, 4 * longestStudentName), longestStudentName)};
    const auto known = log.students();
    if (!known) return known.error();
    for (const Student& each : *known)
        if (matchKey(each.name) == matchKey(name))
            return Error{Error::Code::badInput, fmt::format("there is a student {} already{}: choose another name",
                                                            each.name, each.archived ? ", archived" : "")};
    return {};
}

Result<void> nameStudent(Log& log, const std::string& from, const std::string& to) {
    const auto known = log.students();
    if (!known) return known.error();
    const auto named = [&](const std::string& name) {
        return std::ranges::find_if(*known, [&](const Student& each) { return each.name == name; });
    };
    const auto old = named(from), other = named(to);
    if (old == known->end()) return {};
    if (other != known->end()) return mergeStudents(log, *old, *other);
    return log.change({old->uuid, to, old->archived});
}

Result<void> mergeStudents(Log& log, const Student& from, const Student& into) {
    if (from.uuid == into.uuid)
        return Error{Error::Code::badInput, fmt::format("{} is one student already: name two", from.name)};
    return log.withSql([&](Connection& sql) {
        sql.transaction([&] {
            const auto id = [&](const Student& student) {
                Statement row(sql.handle(), "SELECT id FROM student WHERE uuid = ?");
                if (!row.bind(student.uuid).next()) throw SqlFailure::damaged(student.name + " is not there");
                return row.whole(0);
            };
            const std::int64_t old = id(from), now = id(into);
            for (const char* table : {"sitting", "note", "former"})
                sql.run(fmt::format("UPDATE {} SET student = {} WHERE student = {}", table, now, old));
            // Of two lessons of one title the one given last stays.
            sql.run(
                fmt::format("DELETE FROM lesson AS one WHERE student IN ({0}, {1}) AND EXISTS(SELECT 1 FROM lesson "
                            "AS other WHERE other.student IN ({0}, {1}) AND other.student <> one.student AND "
                            "other.title = one.title AND (other.received_ms > one.received_ms OR "
                            "(other.received_ms = one.received_ms AND other.student = {1})))",
                            old, now));
            sql.run(fmt::format("UPDATE lesson SET student = {} WHERE student = {}", now, old));
            sql.run(fmt::format("INSERT INTO former SELECT uuid, {} FROM student WHERE id = {}", now, old));
            sql.run(fmt::format("DELETE FROM student WHERE id = {}", old));
        });
    });
}

Result<StudentsShare> shareOf(Log& log, const Student& student) {
    StudentsShare share;
    const auto read = log.withSql([&](Connection& sql) { share = countShare(sql, student.uuid); });
    if (!read) return read.error();
    return share;
}

Result<StudentsShare> removeStudent(Log& log, const Student& student) {
    StudentsShare share;
    const auto done = log.withSql([&](Connection& sql) {
        sql.run("PRAGMA secure_delete = ON");
        sql.transaction([&] {
            share = countShare(sql, student.uuid);
            const auto takes = takesOf(sql, log, student.uuid);
            deleteRows(sql, student.uuid);
            // Last: broken off before, the sounds still have their tries, and all of it can be deleted again.
            share.takesLeft = deleteTakes(takes);
        });
        share.overwritten = overwrite(sql);
    });
    if (!done) return done.error();
    return share;
}

std::optional<Error> leftOf(const StudentsShare& share, const Log& log) {
    if (share.takesLeft > 0)
        return Error{Error::Code::unwritable, fmt::format("{} kept sounds could not be deleted: delete them in {}",
                                                          share.takesLeft, (log.folder() / "takes").string())};
    if (share.overwritten) return {};
    return Error{Error::Code::busy,
                 "the log is open elsewhere too, so what was deleted is not overwritten yet: close Landfall "
                 "everywhere, then run `landfall log check`"};
}

std::string wordsOf(const StudentsShare& share, std::string_view between) {
    return fmt::format("{}{}{}", counted(share.sittings, "sitting", "sittings"), between,
                       counted(share.tries, "try", "tries"));
}

std::string soundsOf(int takes) { return counted(takes, "kept sound", "kept sounds"); }

Result<std::vector<GuitarEntry>> guitarEntries(Log& log) {
    std::vector<GuitarEntry> found;
    const auto read = log.withSql([&](Connection& sql) {
        // Of the sitting that began last (SQLite: beside a max() stand its row's columns).
        Statement row(sql.handle(),
                      "SELECT g.uuid, g.archived, count(s.id), max(s.started_ms), s.stiffness, g.name, g.tuning, "
                      "g.capo, g.highest_fret, g.left_handed, g.a4_hz, g.gauges_inch, g.plain_strings, g.scale_mm, "
                      "g.radius_mm, g.action_mm FROM guitar g LEFT JOIN sitting s ON s.guitar = g.id GROUP BY g.id "
                      "ORDER BY g.archived, count(s.id) > 0, 4 DESC, g.id DESC");
        while (row.next()) {
            GuitarEntry& entry = found.emplace_back(GuitarEntry{row.text(0), readGuitar(row, 5), row.whole(1) != 0,
                                                                static_cast<int>(row.whole(2)), timeIn(row, 3)});
            entry.guitar.stiffness = numbersIn(row.text(4));
        }
    });
    if (!read) return read.error();
    return found;
}

Result<void> keepGuitar(Log& log, const Guitar& guitar) {
    return log.withSql([&](Connection& sql) { sql.transaction([&] { guitarRow(sql, guitar); }); });
}

Result<void> removeGuitar(Log& log, const std::string& name) {
    const auto known = guitarEntries(log);
    if (!known) return known.error();
    int sittings = 0;
    for (const GuitarEntry& each : *known)
        if (each.guitar.name == name) sittings += each.sittings;
    if (sittings > 0)
        return Error{Error::Code::badInput,
                     fmt::format("{} was played in {}, which keep their guitar: archive it instead", name,
                                 counted(sittings, "sitting", "sittings"))};
    const auto there = archiveGuitar(log, name, true);  // says which there are
    if (!there) return there.error();
    return log.withSql([&](Connection& sql) { deleteUnplayed(sql, name); });
}

namespace {

// One that is not there needs nothing.
Result<void> whereThere(const Result<int>& changed) {
    if (!changed && changed.error().code != Error::Code::notFound) return changed.error();
    return {};
}

}  // namespace

Result<void> nameGuitar(Log& log, const std::string& name, const std::string& to) {
    return whereThere(renameGuitar(log, name, to));
}

Result<void> joinGuitar(Log& log, const std::string& name, const std::string& into) {
    if (const auto merged = whereThere(mergeGuitars(log, name, into)); !merged) return merged.error();
    return whereThere(archiveGuitar(log, into, false));
}

Result<void> putAwayGuitar(Log& log, const std::string& name) {
    if (const auto archived = whereThere(archiveGuitar(log, name, true)); !archived) return archived.error();
    return log.withSql([&](Connection& sql) { deleteUnplayed(sql, name); });
}

Result<int> renameGuitar(Log& log, const std::string& name, const std::string& to) {
    const auto known = guitarEntries(log);
    if (!known) return known.error();
    for (const GuitarEntry& each : *known)
        if (each.guitar.name != name && matchKey(each.guitar.name) == matchKey(to))
            return Error{Error::Code::badInput,
                         fmt::format("there is a guitar {} already: choose another name, or `landfall guitars merge` "
                                     "them where they are one",
                                     each.guitar.name)};
    return changeGuitars(log, name, "name", to);
}

Result<int> mergeGuitars(Log& log, const std::string& name, const std::string& into) {
    if (name == into) return Error{Error::Code::badInput, fmt::format("{} is one guitar already", name)};
    const auto known = guitarEntries(log);
    if (!known) return known.error();
    const auto other = std::ranges::find(*known, into, [](const GuitarEntry& each) { return each.guitar.name; });
    if (other == known->end()) return changeGuitars(log, into, "name", into);  // says which there are
    return changeGuitars(log, name, fmt::format("archived = {:d}, name", other->archived), into);
}

Result<int> archiveGuitar(Log& log, const std::string& name, bool archived) {
    return changeGuitars(log, name, "archived", archived);
}

}  // namespace landfall
