// A PostgreSQL server of the test's own: made with initdb in a scratch folder, reachable only through a
// socket in that folder, run by an unprivileged user, stopped (and killed with the test, should that crash).
// Its disk flushes are off: the tests kill clients, never the machine.
#pragma once

#include <fcntl.h>
#include <grp.h>
#include <pwd.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <stdexcept>
#include <string>
#include <vector>

namespace tipwright::test {

class PostgresqlServer {
public:
    PostgresqlServer() : bin_(find_bin()) {
        std::string name = (std::filesystem::temp_directory_path() / "tipwright-pg-XXXXXX").string();
        if (::mkdtemp(name.data()) == nullptr) throw std::runtime_error("no folder for the server");
        folder_ = name;
        if (::geteuid() == 0) {
            // The server refuses to run as root.
            for (const char* candidate : {"postgres", "nobody"})
                if (const passwd* found = ::getpwnam(candidate); found != nullptr && user_ == 0) {
                    user_ = found->pw_uid;
                    group_ = found->pw_gid;
                }
            if (user_ == 0 || ::chown(folder_.c_str(), user_, group_) != 0)
                throw std::runtime_error("no unprivileged user to run the server");
        }
        run({"initdb", "-D", folder_ + "/data", "-A", "trust", "-U", "tipwright", "-E", "UTF8",
             "--locale=C.UTF-8", "--no-sync"});
        start();
    }

    ~PostgresqlServer() {
        stop();
        std::error_code ignored;
        std::filesystem::remove_all(folder_, ignored);
    }

    PostgresqlServer(const PostgresqlServer&) = delete;
    PostgresqlServer& operator=(const PostgresqlServer&) = delete;

    void start() {
        if (pid_ != 0) return;
        pid_ = spawn({"postgres", "-D", folder_ + "/data", "-k", folder_, "-c", "listen_addresses=", "-c",
                      "fsync=off", "-c", "max_connections=60"});
        // pg_isready waits for one answer; the server needs some tries to be there.
        for (int i = 0; i < 600; ++i) {
            if (status_of({"pg_isready", "-q", "-h", folder_, "-U", "tipwright", "-d", "postgres"}) == 0)
                return;
            int status = 0;
            if (::waitpid(pid_, &status, WNOHANG) == pid_)
                throw std::runtime_error("the server ended: see " + log());
            ::usleep(20000);
        }
        throw std::runtime_error("the server does not start: see " + log());
    }

    // At once, as by a power cut.
    void stop() {
        if (pid_ == 0) return;
        ::kill(pid_, SIGQUIT);
        ::waitpid(pid_, nullptr, 0);
        pid_ = 0;
    }

    // A new, empty database; gives its connection string.
    std::string make_database() {
        const std::string name = "register_" + std::to_string(++databases_);
        run({"createdb", "-h", folder_, "-U", "tipwright", name});
        return "host=" + folder_ + " user=tipwright dbname=" + name;
    }

    void sql(const std::string& statement) {
        run({"psql", "-q", "-h", folder_, "-U", "tipwright", "-d", "postgres", "-c", statement});
    }

    // Who is let in, and how: lines of pg_hba.conf for all but the server's own user.
    void let_in_by(const std::string& rules) {
        std::ofstream(folder_ + "/data/pg_hba.conf") << "local all tipwright trust\n" << rules;
        ::kill(pid_, SIGHUP);  // read before the next connection is taken
    }

    // One for the whole test program, started when first asked for.
    static PostgresqlServer& shared() {
        static PostgresqlServer server;
        return server;
    }

private:
    static std::string find_bin() {
        std::string newest;
        std::error_code error;
        for (std::filesystem::directory_iterator it("/usr/lib/postgresql", error);
             !error && it != std::filesystem::directory_iterator(); it.increment(error))
            if (std::filesystem::exists(it->path() / "bin/initdb"))
                newest = std::max(newest, it->path().string() + "/bin");
        if (newest.empty())
            throw std::runtime_error("PostgreSQL's server is not installed; see bench/install.sh");
        return newest;
    }

    std::string log() const { return folder_ + "/log"; }

    pid_t spawn(std::vector<std::string> words) const {
        words.front() = bin_ + "/" + words.front();
        const pid_t parent = ::getpid();
        const pid_t child = ::fork();
        if (child < 0) throw std::runtime_error("no process");
        if (child > 0) return child;
        if (user_ != 0 && (::setgroups(0, nullptr) != 0 || ::setgid(group_) != 0 || ::setuid(user_) != 0))
            ::_exit(126);
        ::prctl(PR_SET_PDEATHSIG, SIGQUIT);
        if (::getppid() != parent) ::_exit(126);
        const int out = ::open(log().c_str(), O_WRONLY | O_CREAT | O_APPEND, 0600);
        ::dup2(out, 1);
        ::dup2(out, 2);
        if (::chdir("/") != 0) ::_exit(126);
        std::vector<char*> arguments;
        for (std::string& word : words) arguments.push_back(word.data());
        arguments.push_back(nullptr);
        ::execv(arguments[0], arguments.data());
        ::_exit(127);
    }

    int status_of(std::vector<std::string> words) const {
        int status = 0;
        if (::waitpid(spawn(std::move(words)), &status, 0) < 0 || !WIFEXITED(status)) return -1;
        return WEXITSTATUS(status);
    }

    void run(std::vector<std::string> words) const {
        const std::string what = words.front();
        if (status_of(std::move(words)) != 0) throw std::runtime_error(what + " failed: see " + log());
    }

    std::string bin_;
    std::string folder_;
    uid_t user_ = 0;
    gid_t group_ = 0;
    pid_t pid_ = 0;
    int databases_ = 0;
};

}  // namespace tipwright::test
