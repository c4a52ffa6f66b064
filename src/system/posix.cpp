// Every operating-system call of the program, for POSIX systems with memfd_create and /proc (Linux). Another system
// adds a file beside this one.
#include <array>
#include <atomic>
#include <cerrno>
#include <chrono>
#include <cstdlib>
#include <cstring>
#include <mutex>
#include <string_view>
#include <thread>
#include <utility>

#include <fcntl.h>
#include <poll.h>
#include <fmt/core.h>
#include <pwd.h>
#include <signal.h>
#include <spawn.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "src/system/child_process.h"
#include "src/system/machine.h"
#include "src/system/replace_file.h"

extern char** environ;

namespace landfall {

namespace {

// Where the child finds its memory; 0, 1 and 2 are the standard streams.
constexpr int memoryDescriptor = 3;
// Our descriptors stay above those that the child's are copied onto.
constexpr int firstOwnDescriptor = 10;

std::string reason() { return std::strerror(errno); }

void closeIfOpen(int& descriptor) {
    if (descriptor >= 0) ::close(descriptor);
    descriptor = -1;
}

// Moves a descriptor out of the way of 0 to 3; closed on exec. Empty on failure.
int movedUp(int descriptor) {
    const int moved = ::fcntl(descriptor, F_DUPFD_CLOEXEC, firstOwnDescriptor);
    ::close(descriptor);
    return moved;
}

void* mapped(int descriptor, std::size_t bytes) {
    return ::mmap(nullptr, bytes, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_POPULATE, descriptor, 0);
}

Result<std::filesystem::path> homeFolder() {
    if (const char* home = std::getenv("HOME"); home != nullptr && home[0] == '/') return std::filesystem::path(home);
    if (const passwd* entry = ::getpwuid(::getuid());
        entry != nullptr && entry->pw_dir != nullptr && entry->pw_dir[0] == '/')
        return std::filesystem::path(entry->pw_dir);
    return Error{Error::Code::notFound, "no home folder: set HOME to a folder that can be written"};
}

// The specification says to ignore a relative path in the variable.
Result<std::filesystem::path> folder(const char* variable, const char* underHome) {
    std::filesystem::path base;
    if (const char* set = std::getenv(variable); set != nullptr && set[0] == '/') {
        base = set;
    } else {
        auto home = homeFolder();
        if (!home) return home.error();
        base = *home / underHome;
    }
    base /= "landfall";
    std::error_code error;
    std::filesystem::create_directories(base, error);
    if (error || !std::filesystem::is_directory(base, error))
        return Error{Error::Code::unwritable,
                     fmt::format("{}: cannot be made ({}): set {} to a folder that can be written", base.string(),
                                 error ? error.message() : "not a folder", variable)};
    return base;
}

}  // namespace

Result<SharedMemory> SharedMemory::create(std::size_t bytes) {
    int descriptor = ::memfd_create("landfall", MFD_CLOEXEC);
    if (descriptor >= 0) descriptor = movedUp(descriptor);
    if (descriptor < 0 || ::ftruncate(descriptor, static_cast<off_t>(bytes)) != 0) {
        const std::string why = reason();
        closeIfOpen(descriptor);
        return Error{Error::Code::failed, fmt::format("no shared memory of {} bytes: {}", bytes, why)};
    }
    void* const address = mapped(descriptor, bytes);
    if (address == MAP_FAILED) {
        const std::string why = reason();
        closeIfOpen(descriptor);
        return Error{Error::Code::failed, fmt::format("no shared memory of {} bytes: {}", bytes, why)};
    }
    return SharedMemory(descriptor, address, bytes);
}

Result<SharedMemory> SharedMemory::fromParent(std::size_t bytes) {
    struct stat found {};
    if (::fstat(memoryDescriptor, &found) != 0 || found.st_size != static_cast<off_t>(bytes))
        return Error{Error::Code::badInput,
                     "no memory from a parent process: this command is for the program's own use"};
    void* const address = mapped(memoryDescriptor, bytes);
    if (address == MAP_FAILED) return Error{Error::Code::failed, fmt::format("the parent's memory: {}", reason())};
    // A page of samples that was swapped out would stall the callback. Best effort: the limit may be low.
    (void)::mlock(address, bytes);
    return SharedMemory(memoryDescriptor, address, bytes);
}

SharedMemory::SharedMemory(SharedMemory&& other) noexcept
    : descriptor(std::exchange(other.descriptor, -1)), address(std::exchange(other.address, nullptr)),
      length(other.length) {}

SharedMemory& SharedMemory::operator=(SharedMemory&& other) noexcept {
    std::swap(descriptor, other.descriptor);
    std::swap(address, other.address);
    std::swap(length, other.length);
    return *this;
}

SharedMemory::~SharedMemory() {
    if (address != nullptr) ::munmap(address, length);
    closeIfOpen(descriptor);
}

Result<ChildProcess> ChildProcess::start(const std::filesystem::path& program,
                                         const std::vector<std::string>& arguments, const SharedMemory& memory) {
    std::array<int, 2> ends{-1, -1};
    if (::pipe2(ends.data(), O_CLOEXEC) != 0)
        return Error{Error::Code::failed, fmt::format("{}: cannot be started: {}", program.string(), reason())};
    ends[0] = movedUp(ends[0]);
    ends[1] = movedUp(ends[1]);

    std::vector<std::string> words{program.string()};
    words.insert(words.end(), arguments.begin(), arguments.end());
    std::vector<char*> pointers;
    for (std::string& word : words) pointers.push_back(word.data());
    pointers.push_back(nullptr);

    posix_spawn_file_actions_t actions;
    posix_spawnattr_t attributes;
    ::posix_spawn_file_actions_init(&actions);
    ::posix_spawnattr_init(&attributes);
    ::posix_spawn_file_actions_adddup2(&actions, ends[0], 0);
    ::posix_spawn_file_actions_addopen(&actions, 1, "/dev/null", O_WRONLY, 0);
    ::posix_spawn_file_actions_addopen(&actions, 2, "/dev/null", O_WRONLY, 0);
    ::posix_spawn_file_actions_adddup2(&actions, memory.descriptor, memoryDescriptor);
    ::posix_spawn_file_actions_addclosefrom_np(&actions, memoryDescriptor + 1);
    sigset_t none;
    sigset_t all;
    ::sigemptyset(&none);
    ::sigfillset(&all);
    ::posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETPGROUP | POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF);
    ::posix_spawnattr_setpgroup(&attributes, 0);
    ::posix_spawnattr_setsigmask(&attributes, &none);
    ::posix_spawnattr_setsigdefault(&attributes, &all);

    pid_t process = -1;
    const int failure = ::posix_spawn(&process, program.c_str(), &actions, &attributes, pointers.data(), environ);
    ::posix_spawn_file_actions_destroy(&actions);
    ::posix_spawnattr_destroy(&attributes);
    closeIfOpen(ends[0]);
    if (failure != 0) {
        closeIfOpen(ends[1]);
        return Error{Error::Code::failed,
                     fmt::format("{}: cannot be started: {}", program.string(), std::strerror(failure))};
    }
    return ChildProcess(process, ends[1]);
}

ChildProcess::ChildProcess(ChildProcess&& other) noexcept
    : process(std::exchange(other.process, -1)), pipe(std::exchange(other.pipe, -1)), status(other.status) {}

ChildProcess& ChildProcess::operator=(ChildProcess&& other) noexcept {
    std::swap(process, other.process);
    std::swap(pipe, other.pipe);
    std::swap(status, other.status);
    return *this;
}

ChildProcess::~ChildProcess() {
    if (process < 0) return;
    kill();
    for (int tries = 0; running() && tries < 50; ++tries) std::this_thread::sleep_for(std::chrono::milliseconds(1));
    closeIfOpen(pipe);
}

bool ChildProcess::running() {
    if (process < 0 || status) return false;
    int found = 0;
    const pid_t ended = ::waitpid(static_cast<pid_t>(process), &found, WNOHANG);
    if (ended == 0 || (ended < 0 && errno == EINTR)) return true;
    status = ended < 0 ? 0 : found;
    return false;
}

std::string ChildProcess::ending() const {
    if (!status) return "it runs";
    if (WIFSIGNALED(*status)) return fmt::format("it was ended by signal {}", WTERMSIG(*status));
    return fmt::format("it ended with status {}", WEXITSTATUS(*status));
}

void ChildProcess::kill() {
    if (running()) ::kill(static_cast<pid_t>(process), SIGKILL);
}

void endWithParent() {
    std::thread([] {
        std::array<char, 64> ignored{};
        for (;;) {
            const ssize_t got = ::read(STDIN_FILENO, ignored.data(), ignored.size());
            if (got == 0 || (got < 0 && errno != EINTR)) ::_exit(0);
        }
    }).detach();
}

Result<std::filesystem::path> settingsFolder() { return folder("XDG_CONFIG_HOME", ".config"); }
Result<std::filesystem::path> dataFolder() { return folder("XDG_DATA_HOME", ".local/share"); }

Result<std::filesystem::path> newTemporaryFolder() {
    std::error_code refused;
    std::string pattern = (std::filesystem::temp_directory_path(refused) / "landfall-XXXXXX").string();
    if (refused)
        return Error{Error::Code::unwritable, fmt::format("no folder for temporary files: {}", refused.message())};
    if (::mkdtemp(pattern.data()) == nullptr)
        return Error{
            Error::Code::unwritable,
            fmt::format("{}: cannot be made: {}; set TMPDIR to a folder that can be written", pattern, reason())};
    return std::filesystem::path(pattern);
}

Result<std::filesystem::path> ownProgram() {
    std::error_code error;
    auto program = std::filesystem::read_symlink("/proc/self/exe", error);
    if (error) return Error{Error::Code::notFound, fmt::format("the program's own file: {}", error.message())};
    return program;
}

namespace {

std::mutex quietMutex;
int quietLives = 0;
int standardError = -1;  // kept while it leads nowhere

}  // namespace

QuietErrors::QuietErrors() {
    const std::lock_guard lock(quietMutex);
    if (quietLives++ > 0) return;
    standardError = ::fcntl(STDERR_FILENO, F_DUPFD_CLOEXEC, 3);
    const int nowhere = ::open("/dev/null", O_WRONLY | O_CLOEXEC);
    if (standardError >= 0 && nowhere >= 0) ::dup2(nowhere, STDERR_FILENO);
    if (nowhere >= 0) ::close(nowhere);
}

QuietErrors::~QuietErrors() {
    const std::lock_guard lock(quietMutex);
    if (--quietLives > 0 || standardError < 0) return;
    ::dup2(standardError, STDERR_FILENO);
    ::close(standardError);
    standardError = -1;
}

void surviveBrokenConnections() {
    sigset_t broken;
    sigemptyset(&broken);
    sigaddset(&broken, SIGPIPE);
    pthread_sigmask(SIG_BLOCK, &broken, nullptr);
}

bool inputIsTerminal() { return ::isatty(STDIN_FILENO) == 1; }

namespace {
bool inputEnded = false;
}

bool typingOver() { return inputEnded; }

std::optional<std::string> typedLine() {
    static std::string typed;
    pollfd input{STDIN_FILENO, POLLIN, 0};
    while (!inputEnded && typed.find('\n') == std::string::npos && ::poll(&input, 1, 0) > 0) {
        char some[256];
        const auto got = ::read(STDIN_FILENO, some, sizeof some);
        if (got <= 0) inputEnded = true;
        else typed.append(some, static_cast<std::size_t>(got));
    }
    const auto end = typed.find('\n');
    if (end == std::string::npos) return std::nullopt;
    std::string line = typed.substr(0, end);
    typed.erase(0, end + 1);
    return line;
}

Result<void> replaceFile(const std::filesystem::path& named, std::string_view bytes) {
    std::error_code ignored;
    const std::filesystem::path linked = std::filesystem::canonical(named, ignored);
    const std::filesystem::path file = linked.empty() ? named : linked;
    const std::filesystem::path folder = file.has_parent_path() ? file.parent_path() : std::filesystem::path(".");
    const auto failed = [&](int cause) {
        return Error{
            cause == ENOSPC || cause == EDQUOT ? Error::Code::full : Error::Code::unwritable,
            fmt::format("{} cannot be written ({}): allow writing to its folder, and see that the disk is not full",
                        named.string(), std::strerror(cause))};
    };
    std::string fresh = file.string() + ".XXXXXX";
    int descriptor = ::mkostemp(fresh.data(), O_CLOEXEC);
    if (descriptor < 0) return failed(errno);
    // mkostemp gives the owner alone the file: keep the old one's mode, or what a new file would have.
    struct stat old {};
    const bool there = ::stat(file.c_str(), &old) == 0;
    bool good = ::fchmod(descriptor, there ? old.st_mode & 07777 : 0644) == 0;
    for (std::string_view left = bytes; good && !left.empty();) {
        const ssize_t wrote = ::write(descriptor, left.data(), left.size());
        if (wrote > 0) left.remove_prefix(static_cast<std::size_t>(wrote));
        else good = wrote < 0 && errno == EINTR;
    }
    good = good && ::fsync(descriptor) == 0;
    const int cause = good ? 0 : errno;
    const bool closed = ::close(descriptor) == 0;
    if (!good || !closed || ::rename(fresh.c_str(), file.c_str()) != 0) {
        const int why = good ? errno : cause;
        ::unlink(fresh.c_str());
        return failed(why);
    }
    // The new name is on the disk once the folder is.
    if (const int at = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC); at >= 0) {
        ::fsync(at);
        ::close(at);
    }
    return {};
}

}  // namespace landfall
