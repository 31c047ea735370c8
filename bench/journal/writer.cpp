#include "bench/journal/writer.hpp"

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <condition_variable>
#include <cstring>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <utility>

namespace tipwright::bench {

namespace {

constexpr std::size_t buffer_limit = 64u << 10;

Fault write_fault(const AppendFile& file, int error) {
    if (error == ESTALE)
        return {FaultCode::file_unwritable, "the journal was removed or renamed while its run went on",
                file.name(), "where it was only moved put it back, then resume the run; else calibrate anew"};
    const bool full = error == ENOSPC || error == EDQUOT || error == EFBIG;
    return {full ? FaultCode::disk_full : FaultCode::file_unwritable,
            std::string("the journal cannot be written: ") + std::strerror(error), file.name(),
            error == EFBIG ? "raise the limit of a file's size (ulimit -f), then resume the run"
            : full         ? "free space on the disk, then resume the run"
                           : "check the disk, then resume the run"};
}

// Writes all of it, going on after short writes.
std::optional<Fault> write_all(AppendFile& file, std::string_view bytes) {
    while (!bytes.empty()) {
        const ssize_t count = file.write(bytes);
        if (count < 0 && errno == EINTR) continue;
        if (count < 0) return write_fault(file, errno);
        if (count == 0) return write_fault(file, ENOSPC);
        bytes.remove_prefix(std::min(static_cast<std::size_t>(count), bytes.size()));
    }
    return std::nullopt;
}

class BufferedWriter : public JournalWriter {
public:
    BufferedWriter(std::unique_ptr<AppendFile> file, std::uint64_t sequence)
        : file_(std::move(file)), sequence_(sequence) {}
    BufferedWriter(const BufferedWriter&) = delete;
    BufferedWriter& operator=(const BufferedWriter&) = delete;
    // What a caller did not sync may be lost; it is still tried.
    ~BufferedWriter() override { flush(); }

    Outcome append(double time_s, std::string_view kind,
                   std::initializer_list<JournalField> fields) override {
        if (fault_) return *fault_;
        const std::size_t begin = buffer_.size();
        append_journal_line(buffer_, sequence_ + 1, time_s, kind, fields);
        if (buffer_.size() - begin > journal_line_limit) {
            const std::size_t length = buffer_.size() - begin;
            buffer_.resize(begin);
            return Fault{FaultCode::bad_value, "an entry of " + std::to_string(length) + " bytes is too long",
                         file_->name(), ""};
        }
        ++sequence_;
        if (buffer_.size() >= buffer_limit) flush();
        return fault_ ? Outcome(*fault_) : Outcome(Done{});
    }

    Outcome sync() override {
        flush();
        return fault_ ? Outcome(*fault_) : Outcome(Done{});
    }

    std::uint64_t sequence() const override { return sequence_; }

    void add_first_line() {
        buffer_ += journal_first_line;
        buffer_ += '\n';
    }

protected:
    void flush() {
        if (!fault_ && !buffer_.empty()) fault_ = write_all(*file_, buffer_);
        buffer_.clear();
    }

    AppendFile& file() { return *file_; }
    std::optional<Fault>& fault() { return fault_; }

private:
    std::unique_ptr<AppendFile> file_;
    std::uint64_t sequence_;
    std::string buffer_;
    std::optional<Fault> fault_;
};

// Writes at once; a thread syncs what was written within the group-commit time. Who asks for a sync does it
// himself: to hand it to the thread and be woken by it takes a twentieth of the time of the disk.
class DurableWriter final : public BufferedWriter {
public:
    DurableWriter(std::unique_ptr<AppendFile> file, std::uint64_t sequence, double group_commit_s)
        : BufferedWriter(std::move(file), sequence),
          group_commit_(std::chrono::duration<double>(std::clamp(group_commit_s, 0.01, 1.0))),
          thread_([this] { keep_syncing(); }) {}

    ~DurableWriter() override {
        flush();
        {
            const std::lock_guard lock(mutex_);
            ++written_;
            closing_ = true;
        }
        wake_.notify_all();
        thread_.join();
    }

    Outcome append(double time_s, std::string_view kind,
                   std::initializer_list<JournalField> fields) override {
        if (Outcome appended = BufferedWriter::append(time_s, kind, fields); !appended) return appended;
        flush();
        const std::lock_guard lock(mutex_);
        ++written_;
        if (idle_) wake_.notify_all();
        return outcome();
    }

    Outcome sync() override {
        flush();
        std::unique_lock lock(mutex_);
        if (!fault()) put_on_disk(lock);
        return outcome();
    }

private:
    // Takes over a fault that a sync met.
    Outcome outcome() {
        if (!fault() && sync_error_ != 0) fault() = write_fault(file(), sync_error_);
        return fault() ? Outcome(*fault()) : Outcome(Done{});
    }

    void put_on_disk(std::unique_lock<std::mutex>& lock) {
        const std::uint64_t covered = written_;
        lock.unlock();
        const int error = file().sync() == 0 ? 0 : errno;
        lock.lock();
        synced_ = std::max(synced_, covered);
        if (error != 0) sync_error_ = error;
    }

    // At whole multiples of the period, for all journals alike: a file system puts what is synced at once
    // into one commit, and each commit holds up whoever writes meanwhile.
    std::chrono::steady_clock::time_point next_commit() const {
        const auto period = std::chrono::duration_cast<std::chrono::steady_clock::duration>(group_commit_);
        const auto now = std::chrono::steady_clock::now().time_since_epoch();
        return std::chrono::steady_clock::time_point((now / period + 1) * period);
    }

    void keep_syncing() {
        std::unique_lock lock(mutex_);
        while (sync_error_ == 0) {
            // To be woken by each first entry after a sync would be a wake more for nothing.
            wake_.wait_until(lock, next_commit(), [this] { return closing_; });
            if (written_ == synced_) {
                idle_ = true;
                wake_.wait(lock, [this] { return closing_ || written_ != synced_; });
                idle_ = false;
                if (written_ == synced_) return;
            } else {
                put_on_disk(lock);
            }
        }
    }

    std::chrono::duration<double> group_commit_;
    std::mutex mutex_;
    std::condition_variable wake_;
    std::uint64_t written_ = 0;  // appends so far
    std::uint64_t synced_ = 0;   // of these, on the disk
    int sync_error_ = 0;
    bool idle_ = false;  // the thread waits for something to sync
    bool closing_ = false;
    std::thread thread_;  // last: starts when all the rest stands
};

std::unique_ptr<BufferedWriter> make_writer(std::unique_ptr<AppendFile> file, std::uint64_t sequence,
                                            const JournalOptions& options) {
    if (!options.durable) return std::make_unique<BufferedWriter>(std::move(file), sequence);
    return std::make_unique<DurableWriter>(std::move(file), sequence, options.group_commit_s);
}

}  // namespace

Result<std::unique_ptr<JournalWriter>> JournalWriter::create(const std::filesystem::path& path,
                                                             JournalOptions options) {
    auto file = create_append_file(path);
    if (!file) return file.fault();
    return create(std::move(*file), options);
}

Result<std::unique_ptr<JournalWriter>> JournalWriter::create(std::unique_ptr<AppendFile> file,
                                                             JournalOptions options) {
    auto writer = make_writer(std::move(file), 0, options);
    writer->add_first_line();
    if (Outcome written = writer->sync(); !written) return written.fault();
    return std::unique_ptr<JournalWriter>(std::move(writer));
}

Result<std::unique_ptr<JournalWriter>> JournalWriter::resume(const std::filesystem::path& path,
                                                             std::uint64_t keep_bytes,
                                                             std::uint64_t last_sequence,
                                                             JournalOptions options) {
    auto file = hold_append_file(path);
    if (!file) return file.fault();
    return resume(std::move(*file), keep_bytes, last_sequence, options);
}

Result<std::unique_ptr<JournalWriter>> JournalWriter::resume(std::unique_ptr<AppendFile> held,
                                                             std::uint64_t keep_bytes,
                                                             std::uint64_t last_sequence,
                                                             JournalOptions options) {
    if (held->cut(keep_bytes) != 0) return write_fault(*held, errno);
    auto writer = make_writer(std::move(held), last_sequence, options);
    if (keep_bytes == 0) writer->add_first_line();
    return std::unique_ptr<JournalWriter>(std::move(writer));
}

}  // namespace tipwright::bench
