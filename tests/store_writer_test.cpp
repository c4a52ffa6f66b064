#include "src/store/store_writer.h"

#include <fcntl.h>
#include <poll.h>
#include <sys/mount.h>
#include <unistd.h>

#include <atomic>
#include <chrono>
#include <csignal>
#include <sstream>

#include <fmt/core.h>

#include <doctest/doctest.h>

#include "tests/support/command.h"
#include "tests/support/invented_tries.h"

using namespace landfall;

namespace {

// What the writer said, in order.
class Heard {
public:
    StoreWriter::Listener listener() {
        return [this](const StoreNotice& notice) {
            const std::lock_guard lock(mutex);
            notices.push_back(notice);
        };
    }
    std::vector<StoreNotice> of(StoreNotice::Kind kind) const {
        const std::lock_guard lock(mutex);
        std::vector<StoreNotice> found;
        for (const StoreNotice& notice : notices)
            if (notice.kind == kind) found.push_back(notice);
        return found;
    }

private:
    mutable std::mutex mutex;
    std::vector<StoreNotice> notices;
};

StoreWriter::Config writerConfig(const std::filesystem::path& log) {
    return {log, inventedSitting(), Seconds(0.1), Seconds(0.05)};
}

// Tries 1 to `count` of sitting 1, in order and as they were handed over.
void checkAllThere(const std::filesystem::path& file, unsigned seed, int count) {
    auto log = Log::open(file, Log::Access::read);
    REQUIRE_MESSAGE(log, log.error().message);
    const auto tries = log->tries(1);
    REQUIRE_MESSAGE(tries, tries.error().message);
    REQUIRE(static_cast<int>(tries->size()) == count);
    for (int number = 1; number <= count; ++number) {
        CAPTURE(number);
        CHECK(same((*tries)[static_cast<std::size_t>(number - 1)], inventedTry(seed, number)));
    }
    CHECK(runCommand(fmt::format("sqlite3 '{}' 'PRAGMA integrity_check'", file.string())).output == "ok\n");
}

bool waitUntil(const std::function<bool()>& met) {
    for (int i = 0; i < 1000 && !met(); ++i) std::this_thread::sleep_for(std::chrono::milliseconds(10));
    return met();
}

// Another program that holds the log's write lock until it is let go.
class OtherProgram {
public:
    OtherProgram(const std::filesystem::path& log, const std::filesystem::path& sign)
        : shell(popen(fmt::format("sqlite3 '{}' >/dev/null 2>&1", log.string()).c_str(), "w")) {
        fmt::print(shell, "BEGIN EXCLUSIVE;\n.shell touch '{}'\n", sign.string());
        std::fflush(shell);
        REQUIRE(waitUntil([&] { return std::filesystem::exists(sign); }));
    }
    OtherProgram(const OtherProgram&) = delete;
    OtherProgram& operator=(const OtherProgram&) = delete;
    ~OtherProgram() { letGo(); }
    void letGo() {
        if (shell) pclose(shell);
        shell = nullptr;
    }

private:
    std::FILE* shell = nullptr;
};

// A small disk of its own, or none where this user may not mount one.
class SmallDisk {
public:
    SmallDisk(const std::filesystem::path& at, const char* options) : place(at) {
        std::filesystem::create_directories(place);
        mounted = mount("landfall-test", place.c_str(), "tmpfs", 0, options) == 0;
    }
    SmallDisk(const SmallDisk&) = delete;
    SmallDisk& operator=(const SmallDisk&) = delete;
    ~SmallDisk() {
        if (mounted) umount2(place.c_str(), MNT_DETACH);
    }
    void fill() {
        const int ballast = open((place / "ballast").c_str(), O_CREAT | O_WRONLY, 0600);
        const std::string block(4096, 'b');
        while (write(ballast, block.data(), block.size()) > 0) {
        }
        close(ballast);
    }
    void makeSpace() { std::filesystem::remove(place / "ballast"); }

    std::filesystem::path place;
    bool mounted = false;
};

}  // namespace

TEST_CASE("tries are in the log, numbered in order, by the time the writer has drained") {
    const TestFolder folder;
    Heard heard;
    StoreWriter writer(writerConfig(folder / "log.sqlite"), heard.listener());
    for (int number = 1; number <= 40; ++number) CHECK(writer.add(inventedTry(5, number)) == number);
    const auto state = writer.drain();
    CHECK(state.tries == 40);
    CHECK(state.waiting == 0);
    CHECK(state.problem.empty());
    checkAllThere(folder / "log.sqlite", 5, 40);
    const auto written = heard.of(StoreNotice::Kind::written);
    REQUIRE(written.size() == 40);
    for (int number = 1; number <= 40; ++number) CHECK(written[static_cast<std::size_t>(number - 1)].number == number);
}

TEST_CASE("closing the writer drains it") {
    const TestFolder folder;
    {
        StoreWriter writer(writerConfig(folder / "log.sqlite"));
        for (int number = 1; number <= 25; ++number) writer.add(inventedTry(6, number));
    }
    checkAllThere(folder / "log.sqlite", 6, 25);
}

TEST_CASE("a sitting without a try leaves no trace") {
    const TestFolder folder;
    { StoreWriter writer(writerConfig(folder / "log.sqlite")); }
    CHECK_FALSE(std::filesystem::exists(folder / "log.sqlite"));
}

TEST_CASE("a discarded try stays in the log as struck, and comes back when restored") {
    const TestFolder folder;
    StoreWriter writer(writerConfig(folder / "log.sqlite"));
    LoggedTry one = inventedTry(8, 1);
    one.struck = false;
    writer.add(one);
    writer.add(one);
    CHECK(writer.strike(2));
    CHECK_FALSE(writer.strike(2));
    CHECK_FALSE(writer.strike(3));
    writer.drain();
    auto log = Log::open(folder / "log.sqlite", Log::Access::read);
    CHECK_FALSE((*log->tries(1))[0].struck);
    CHECK((*log->tries(1))[1].struck);
    CHECK(writer.restore(2));
    writer.drain();
    CHECK_FALSE((*log->tries(1))[1].struck);
}

TEST_CASE("handing over a try does not wait for a log that another program has locked") {
    const TestFolder folder;
    const auto file = folder / "log.sqlite";
    Heard heard;
    auto config = writerConfig(file);
    config.patience = Seconds(2.0);
    StoreWriter writer(config, heard.listener());
    writer.add(inventedTry(9, 1));
    REQUIRE(writer.drain().waiting == 0);

    OtherProgram other(file, folder / "locked");
    const auto before = std::chrono::steady_clock::now();
    for (int number = 2; number <= 20; ++number) writer.add(inventedTry(9, number));
    // the lock is waited for 2 s, on the other thread
    CHECK(std::chrono::steady_clock::now() - before < std::chrono::seconds(1));
    CHECK(writer.drain().waiting == 19);
    CHECK(writer.state().problem.find("locked the log " + file.string()) != std::string::npos);
    CHECK(waitUntil([&] { return heard.of(StoreNotice::Kind::failing).size() == 1; }));
    writer.drain();  // one more attempt
    CHECK(heard.of(StoreNotice::Kind::failing).size() == 1);

    other.letGo();
    CHECK(waitUntil([&] { return writer.state().waiting == 0; }));  // by itself, without another try
    CHECK(waitUntil([&] { return heard.of(StoreNotice::Kind::recovered).size() == 1; }));
    checkAllThere(file, 9, 20);
}

TEST_CASE("a lock that is let go in time is waited for without a word") {
    const TestFolder folder;
    auto config = writerConfig(folder / "log.sqlite");
    config.patience = Seconds(5.0);
    Heard heard;
    StoreWriter writer(config, heard.listener());
    writer.add(inventedTry(9, 1));
    writer.drain();
    OtherProgram other(folder / "log.sqlite", folder / "locked");
    writer.add(inventedTry(9, 2));
    std::this_thread::sleep_for(std::chrono::milliseconds(200));
    other.letGo();
    CHECK(writer.drain().waiting == 0);
    CHECK(heard.of(StoreNotice::Kind::failing).empty());
}

TEST_CASE(
    "a disk that fills in mid-sitting loses nothing: it is said once, and everything is written when there is space") {
    const TestFolder folder;
    SmallDisk disk(folder / "disk", "size=2m");
    if (!disk.mounted) {
        MESSAGE(
            "SKIPPED: this user may not mount a small disk; the next test fills one by a limit on the size of files");
        return;
    }
    Heard heard;
    {
        StoreWriter writer(writerConfig(disk.place / "log.sqlite"), heard.listener());
        for (int number = 1; number <= 5; ++number) writer.add(inventedTry(10, number));
        REQUIRE(writer.drain().waiting == 0);
        disk.fill();
        // The log still has room in the pages it holds; well before the 400th try that room is used up.
        for (int number = 6; number <= 400; ++number) {
            writer.add(inventedTry(10, number));
            writer.drain();
        }
        const auto state = writer.state();
        CHECK(state.tries == 400);
        CHECK(state.waiting > 0);
        CHECK_MESSAGE(state.problem.find("is full: free some space") != std::string::npos, state.problem);
        CHECK(heard.of(StoreNotice::Kind::failing).size() == 1);
        disk.makeSpace();
        CHECK(writer.drain().waiting == 0);
        CHECK(heard.of(StoreNotice::Kind::recovered).size() == 1);
    }
    checkAllThere(disk.place / "log.sqlite", 10, 400);
}

TEST_CASE("a disk that is full from the start is named, and the sitting is saved on another one") {
    const TestFolder folder;
    SmallDisk disk(folder / "disk", "size=2m");
    if (!disk.mounted) {
        MESSAGE("SKIPPED: this user may not mount a small disk");
        return;
    }
    disk.fill();
    StoreWriter writer(writerConfig(disk.place / "log.sqlite"));
    for (int number = 1; number <= 5; ++number) writer.add(inventedTry(11, number));
    const auto state = writer.drain();
    CHECK(state.waiting == 5);
    CHECK_MESSAGE(state.problem.find("is full: free some space") != std::string::npos, state.problem);
    REQUIRE(writer.continueIn(folder / "elsewhere.sqlite"));
    CHECK(writer.state().waiting == 0);
    CHECK(writer.state().problem.empty());
    writer.add(inventedTry(11, 6));
    CHECK(writer.drain().log == folder / "elsewhere.sqlite");
    checkAllThere(folder / "elsewhere.sqlite", 11, 6);
}

TEST_CASE("a limit on the size of files acts as a full disk does, and nothing is lost") {
    const TestFolder folder;
    const auto ran =
        runCommand(fmt::format("'{}' '{}' 12 200 60000", LANDFALL_LOG_WRITER, (folder / "log.sqlite").string()));
    INFO(ran.output);
    CHECK(ran.status == 0);
    CHECK(ran.output.find("is full: free some space") != std::string::npos);
    CHECK(ran.output.find("failing") == ran.output.rfind("failing"));
    CHECK(ran.output.find("waiting 0\n") == std::string::npos);
    CHECK(ran.output.find("left 0\n") != std::string::npos);
    checkAllThere(folder / "log.sqlite", 12, 200);
}

TEST_CASE("saving elsewhere takes the whole sitting, and where it fails everything stays as it was") {
    const TestFolder folder;
    StoreWriter writer(writerConfig(folder / "log.sqlite"));
    for (int number = 1; number <= 3; ++number) writer.add(inventedTry(13, number));
    writer.drain();
    const auto refused = writer.continueIn(folder / "nowhere/log.sqlite");
    REQUIRE_FALSE(refused);
    CHECK(refused.error().message.find("does not exist") != std::string::npos);
    CHECK(writer.state().log == folder / "log.sqlite");
    writer.add(inventedTry(13, 4));
    REQUIRE(writer.continueIn(folder / "other.sqlite"));
    writer.drain();
    checkAllThere(folder / "other.sqlite", 13, 4);
}

TEST_CASE("a log that is deleted while in use is written anew with the whole sitting") {
    const TestFolder folder;
    StoreWriter writer(writerConfig(folder / "log.sqlite"));
    for (int number = 1; number <= 3; ++number) writer.add(inventedTry(14, number));
    writer.drain();
    for (const char* part : {"log.sqlite", "log.sqlite-wal", "log.sqlite-shm"}) std::filesystem::remove(folder / part);
    writer.add(inventedTry(14, 4));
    CHECK(writer.drain().waiting == 0);
    checkAllThere(folder / "log.sqlite", 14, 4);
}

TEST_CASE("a damaged log keeps the sitting in memory until it is saved elsewhere") {
    const TestFolder folder;
    writeText(folder / "log.sqlite", std::string(9000, '#'));
    Heard heard;
    StoreWriter writer(writerConfig(folder / "log.sqlite"), heard.listener());
    for (int number = 1; number <= 3; ++number) writer.add(inventedTry(15, number));
    CHECK(writer.drain().waiting == 3);
    CHECK(writer.state().problem.find("damaged") != std::string::npos);
    CHECK(heard.of(StoreNotice::Kind::failing).size() == 1);
    REQUIRE(writer.continueIn(folder / "other.sqlite"));
    checkAllThere(folder / "other.sqlite", 15, 3);
    CHECK(readText(folder / "log.sqlite") == std::string(9000, '#'));
}

TEST_CASE("a folder that may not be written is named, and its log can still be read") {
    const TestFolder folder;
    std::filesystem::create_directory(folder / "shelf");
    const auto file = folder / "shelf/log.sqlite";
    {
        StoreWriter writer(writerConfig(file));
        writer.add(inventedTry(16, 1));
    }
    // chmod does not bind root, so root lays the folder over itself, read-only.
    const bool root = geteuid() == 0;
    const std::string shelf = (folder / "shelf").string();
    if (root) {
        const bool bound = mount(shelf.c_str(), shelf.c_str(), nullptr, MS_BIND, nullptr) == 0;
        if (!bound || mount(nullptr, shelf.c_str(), nullptr, MS_REMOUNT | MS_BIND | MS_RDONLY, nullptr) != 0) {
            if (bound) umount2(shelf.c_str(), MNT_DETACH);
            MESSAGE("SKIPPED: root that may not mount cannot make a folder read-only; run the tests as another user");
            return;
        }
    } else {
        std::filesystem::permissions(shelf, std::filesystem::perms(0555));
        std::filesystem::permissions(file, std::filesystem::perms(0444));
    }
    {
        StoreWriter writer(writerConfig(file));
        writer.add(inventedTry(16, 1));
        const auto state = writer.drain();
        CHECK(state.waiting == 1);
        CHECK_MESSAGE(state.problem.find("cannot be opened: allow reading and writing") != std::string::npos,
                      state.problem);
        StoreWriter fresh(writerConfig(folder / "shelf/new.sqlite"));
        fresh.add(inventedTry(16, 1));
        CHECK_MESSAGE(fresh.drain().problem.find("new.sqlite cannot be opened: allow") != std::string::npos,
                      fresh.state().problem);
        auto reader = Log::open(file, Log::Access::read);
        REQUIRE_MESSAGE(reader, reader.error().message);
        CHECK(same((*reader->tries(1))[0], inventedTry(16, 1)));
    }
    if (root) umount2(shelf.c_str(), MNT_DETACH);
    else std::filesystem::permissions(shelf, std::filesystem::perms(0755));
}

TEST_CASE("a reader beside the writer always sees a whole sitting up to some try, never less than before") {
    const TestFolder folder;
    StoreWriter writer(writerConfig(folder / "log.sqlite"));
    writer.add(inventedTry(17, 1));
    writer.drain();
    std::atomic<bool> done = false;
    int reads = 0;
    std::string fault;
    std::thread reader([&] {
        auto log = Log::open(folder / "log.sqlite", Log::Access::read);
        std::size_t before = 0;
        while (!done && fault.empty()) {
            const auto tries = log->tries(1);
            if (!tries) fault = tries.error().message;
            else if (tries->size() < before) fault = "tries went away";
            else
                for (std::size_t i = 0; i < tries->size(); ++i)
                    if (!same((*tries)[i], inventedTry(17, static_cast<int>(i) + 1)))
                        fault = fmt::format("try {} is not as written", i + 1);
            if (tries) before = tries->size();
            ++reads;
        }
    });
    for (int number = 2; number <= 150; ++number) writer.add(inventedTry(17, number));
    CHECK(writer.drain().waiting == 0);
    done = true;
    reader.join();
    CHECK(fault == "");
    CHECK(reads > 1);
    checkAllThere(folder / "log.sqlite", 17, 150);
}

TEST_CASE(
    "killed 20 times at random moments, the log has every try that was written and loses at most the one in progress") {
    const TestFolder folder;
    std::mt19937 random(20);
    int interrupted = 0;
    for (unsigned run = 1; run <= 20; ++run) {
        CAPTURE(run);
        // Every fourth run begins a new file and is killed early, so that making the log is interrupted too.
        const bool fresh = run % 4 == 0;
        const auto file = fresh ? folder / fmt::format("log{}.sqlite", run) : folder / "log.sqlite";
        int ends[2];
        REQUIRE(pipe(ends) == 0);
        const pid_t child = fork();
        if (child == 0) {
            dup2(ends[1], STDOUT_FILENO);
            close(ends[0]);
            close(ends[1]);
            execl(LANDFALL_LOG_WRITER, LANDFALL_LOG_WRITER, file.c_str(), std::to_string(run).c_str(), "1000000",
                  nullptr);
            _exit(127);
        }
        close(ends[1]);
        pollfd firstWord{ends[0], POLLIN, 0};
        if (!fresh) REQUIRE(poll(&firstWord, 1, 20'000) == 1);
        std::this_thread::sleep_for(
            std::chrono::microseconds(std::uniform_int_distribution(500, fresh ? 30'000 : 300'000)(random)));
        REQUIRE(kill(child, SIGKILL) == 0);
        int status = 0;
        waitpid(child, &status, 0);
        CHECK(WIFSIGNALED(status));
        std::string said;
        char block[4096];
        for (ssize_t got = 0; (got = read(ends[0], block, sizeof block)) > 0;)
            said.append(block, static_cast<std::size_t>(got));
        close(ends[0]);

        int begun = 0, written = 0;
        std::istringstream lines(said);
        for (std::string word, value; lines >> word >> value;) {
            REQUIRE((word == "begin" || word == "written"));
            (word == "begin" ? begun : written) = std::stoi(value);
        }
        CHECK(written >= begun - 1);
        if (begun == 0 && !std::filesystem::exists(file)) continue;  // killed before the first try

        if (begun > 0) ++interrupted;
        CHECK(runCommand(fmt::format("sqlite3 '{}' 'PRAGMA integrity_check'", file.string())).output == "ok\n");
        auto log = Log::open(file, Log::Access::write);
        REQUIRE_MESSAGE(log, log.error().message);
        std::vector<LoggedTry> tries;
        const auto sittings = log->sittings();
        REQUIRE(sittings);
        for (const SittingSummary& summary : *sittings)
            if (summary.sitting.token == static_cast<std::int64_t>(run)) tries = *log->tries(summary.id);
        CHECK(static_cast<int>(tries.size()) >= written);
        CHECK(static_cast<int>(tries.size()) <= begun);
        for (std::size_t i = 0; i < tries.size(); ++i) CHECK(same(tries[i], inventedTry(run, static_cast<int>(i) + 1)));
    }
    CHECK(interrupted >= 10);  // otherwise the moments were not random enough to mean anything
}

TEST_CASE(
    "while the log cannot take a try the terminal says its first word and no more: killed, nothing that was marked is "
    "lost") {
    const TestFolder folder;
    const auto file = folder / "log.sqlite", said = folder / "said";
    { REQUIRE(Log::open(file, Log::Access::write)); }
    OtherProgram other(file, folder / "locked");  // as a disk that takes seconds to sync
    const pid_t child = fork();
    if (child == 0) {
        setenv("HOME", folder.path.c_str(), 1);
        setenv("XDG_CONFIG_HOME", (folder / "config").c_str(), 1);
        setenv("XDG_DATA_HOME", (folder / "data").c_str(), 1);
        const int out = open(said.c_str(), O_CREAT | O_WRONLY | O_APPEND, 0600);
        dup2(out, STDOUT_FILENO);
        execl(LANDFALL_PROGRAM, "landfall", "practise", "--input", "simulated", "--unpaced", "--skip-check", "--log",
              file.c_str(), nullptr);
        _exit(127);
    }
    // "  22 under ..." and "  22 under: about a fifth of a fret.": what is said of a try stands two spaces in, after
    // the first prompt.
    const auto told = [&](bool firstWords) {
        std::istringstream lines(readText(said));
        int found = 0;
        bool asked = false;
        for (std::string line; std::getline(lines, line); asked = asked || line.find("try 1 of") != std::string::npos)
            found += asked && line.starts_with("  ") && line.ends_with("...") == firstWords ? 1 : 0;
        return found;
    };
    CHECK(waitUntil([&] { return told(true) > 0; }));
    // tries on tries, of which none comes into the log; it gives up after 3 s
    std::this_thread::sleep_for(std::chrono::milliseconds(1000));
    CHECK(told(true) == 1);
    CHECK(told(false) == 0);
    REQUIRE(kill(child, SIGKILL) == 0);
    int status = 0;
    waitpid(child, &status, 0);
    CHECK(WIFSIGNALED(status));
    other.letGo();
    auto log = Log::open(file, Log::Access::read);
    REQUIRE(log);
    CHECK(log->sittings()->empty());
}
