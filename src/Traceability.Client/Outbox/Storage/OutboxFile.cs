using System.Globalization;
using Microsoft.Data.Sqlite;

namespace Traceability.Client.Outbox.Storage;

/// <summary>The outbox's file: a SQLite database in which every commit is on the disk before it returns.</summary>
/// <remarks>Used by one thread at a time. Exceptions of the library go through; whoever calls turns them into what a caller is told.</remarks>
internal sealed class OutboxFile : IDisposable
{
    public const string Name = "outbox.db";

    // "TROB": tells the file from other databases.
    private const int ApplicationId = 0x54524F42;
    private const int Version = 1;

    private readonly SqliteConnection connection;
    private readonly SqliteCommand insert;
    private readonly SqliteCommand update;
    private readonly SqliteCommand read;

    private OutboxFile(SqliteConnection connection)
    {
        this.connection = connection;
        insert = Command("insert into entry (number, capsule, state, settled, sum) values ($number, $capsule, $state, $settled, $sum)");
        update = Command("update entry set state = $state, settled = $settled, sum = $sum where number = $number");
        read = Command("select number, capsule, state, settled, sum from entry where number = $number");
        foreach (var command in (SqliteCommand[])[insert, update, read])
        {
            command.Parameters.Add("$number", SqliteType.Integer);
        }

        foreach (var command in (SqliteCommand[])[insert, update])
        {
            command.Parameters.Add("$state", SqliteType.Integer);
            command.Parameters.Add("$settled", SqliteType.Text);
            command.Parameters.Add("$sum", SqliteType.Blob);
        }

        insert.Parameters.Add("$capsule", SqliteType.Blob);
    }

    /// <summary>Opens the file, or makes it. A damaged one throws, or is found out by <see cref="Check"/>.</summary>
    public static OutboxFile Open(string path)
    {
        var opening = new SqliteConnection(new SqliteConnectionStringBuilder { DataSource = path, Mode = SqliteOpenMode.ReadWriteCreate, Pooling = false }.ConnectionString);
        try
        {
            opening.Open();

            // An exclusive connection needs no shared memory beside the file; FULL: the log is on the disk at each commit.
            foreach (var pragma in (string[])
            [
                "page_size = 8192", "locking_mode = EXCLUSIVE", "journal_mode = WAL", "synchronous = FULL", "fullfsync = ON", "checkpoint_fullfsync = ON",
                "wal_autocheckpoint = 500", "secure_delete = ON", "cell_size_check = ON", "temp_store = MEMORY",
            ])
            {
                Execute(opening, $"pragma {pragma}");
            }

            Prepare(opening);
            return new(opening);
        }
        catch
        {
            opening.Dispose();
            throw;
        }
    }

    /// <summary>What is wrong with the file's structure, in the library's words; empty if nothing is.</summary>
    public List<string> Check()
    {
        List<string> wrong = [];
        using var command = Command("pragma integrity_check(20)");
        using var reader = command.ExecuteReader();
        while (reader.Read())
        {
            if (reader.GetString(0) is not "ok" and var text)
            {
                wrong.Add(text.Trim());
            }
        }

        return wrong;
    }

    /// <summary>How durable a commit is, as the library says: journal mode and synchronous level.</summary>
    public (string Journal, long Synchronous) Durability() =>
        ((string)Scalar("pragma journal_mode")!, (long)Scalar("pragma synchronous")!);

    /// <summary>All rows by number, each with whether its checksums fit.</summary>
    public IEnumerable<(StoredRow Row, bool IsWhole)> Rows()
    {
        using var command = Command("select number, capsule, state, settled, sum from entry order by number");
        using var reader = command.ExecuteReader();
        while (reader.Read())
        {
            yield return ReadRow(reader);
        }
    }

    /// <summary>One row; null if there is none of this number.</summary>
    public StoredRow? Find(long number)
    {
        read.Parameters["$number"].Value = number;
        using var reader = read.ExecuteReader();
        if (!reader.Read())
        {
            return null;
        }

        var (row, isWhole) = ReadRow(reader);
        return isWhole ? row : throw new OutboxStorageException($"Entry {number} of the outbox was changed on the disk. Open the outbox again to have it salvaged.");
    }

    public void Insert(StoredRow row)
    {
        insert.Parameters["$capsule"].Value = row.Whole;
        Change(insert, row);
    }

    public void Update(StoredRow row) => Change(update, row);

    public void Delete(IEnumerable<long> numbers)
    {
        using var command = Command("delete from entry where number = $number");
        var parameter = command.Parameters.Add("$number", SqliteType.Integer);
        foreach (var number in numbers)
        {
            parameter.Value = number;
            command.ExecuteNonQuery();
        }
    }

    /// <summary>A note beside the entries; null if there is none.</summary>
    public string? Note(string name)
    {
        using var command = Command("select text from note where name = $name");
        command.Parameters.AddWithValue("$name", name);
        return (string?)command.ExecuteScalar();
    }

    /// <summary>Writes a note; null removes it.</summary>
    public void SetNote(string name, string? text)
    {
        using var command = Command(text is null ? "delete from note where name = $name" : "insert into note (name, text) values ($name, $text) on conflict (name) do update set text = $text");
        command.Parameters.AddWithValue("$name", name);
        if (text is not null)
        {
            command.Parameters.AddWithValue("$text", text);
        }

        command.ExecuteNonQuery();
    }

    public void Begin() => Execute(connection, "begin immediate");

    public void Commit() => Execute(connection, "commit");

    public void Rollback()
    {
        try
        {
            Execute(connection, "rollback");
        }
        catch (SqliteException)
        {
            // The library has rolled back by itself, as it does when the disk fails.
        }
    }

    public void Dispose()
    {
        insert.Dispose();
        update.Dispose();
        read.Dispose();
        connection.Dispose();
    }

    /// <summary>Reads rows one by one for as long as the structure allows it.</summary>
    public static List<(StoredRow Row, bool IsWhole)> ReadWhatCanBe(string path)
    {
        List<(StoredRow, bool)> rows = [];
        try
        {
            using var file = Open(path);
            foreach (var row in file.Rows())
            {
                rows.Add(row);
            }
        }
        catch (Exception e) when (IsDamage(e))
        {
            // As far as it went.
        }

        return rows;
    }

    /// <summary>Whether an exception of the library or of reading says that the file is not as it was written.</summary>
    public static bool IsDamage(Exception e) => e is SqliteException { SqliteErrorCode: 11 or 26 or 1 or 24 } or InvalidCastException or FormatException or OverflowException or ArgumentException;

    private static void Prepare(SqliteConnection connection)
    {
        var id = Convert.ToInt32(Scalar(connection, "pragma application_id"), CultureInfo.InvariantCulture);
        var version = Convert.ToInt32(Scalar(connection, "pragma user_version"), CultureInfo.InvariantCulture);
        if (id == 0 && version == 0 && Scalar(connection, "select count(*) from sqlite_schema") is 0L)
        {
            Execute(
                connection,
                $"""
                begin immediate;
                create table entry (number integer primary key, capsule blob not null, state integer not null, settled text, sum blob not null);
                create table note (name text primary key, text text not null) without rowid;
                pragma application_id = {ApplicationId};
                pragma user_version = {Version};
                commit;
                """);
            return;
        }

        if (id != ApplicationId)
        {
            throw new SqliteException("The file is not an outbox.", 26);
        }

        if (version > Version)
        {
            throw new OutboxException($"The outbox was made by a newer version of this library (form {version}, this one knows {Version}). Use that one.");
        }
    }

    private static (StoredRow Row, bool IsWhole) ReadRow(SqliteDataReader reader)
    {
        var row = new StoredRow(reader.GetInt64(0), (byte[])reader[1], (OutboxState)reader.GetInt32(2), reader.IsDBNull(3) ? null : reader.GetString(3));
        var isWhole = Enum.IsDefined(row.State)
            && Capsule.TryRead(row.Whole, out var head, out _, out var length) && length == row.Whole.Length && head.Number == row.Number
            && row.Sum().AsSpan().SequenceEqual((byte[])reader[4]);
        return (row, isWhole);
    }

    private static void Change(SqliteCommand command, StoredRow row)
    {
        command.Parameters["$number"].Value = row.Number;
        command.Parameters["$state"].Value = (int)row.State;
        command.Parameters["$settled"].Value = row.Settled ?? (object)DBNull.Value;
        command.Parameters["$sum"].Value = row.Sum();
        if (command.ExecuteNonQuery() != 1)
        {
            throw new OutboxStorageException($"Entry {row.Number} of the outbox is not where it was.");
        }
    }

    private static void Execute(SqliteConnection connection, string sql)
    {
        using var command = connection.CreateCommand();
        command.CommandText = sql;
        command.ExecuteNonQuery();
    }

    private static object? Scalar(SqliteConnection connection, string sql)
    {
        using var command = connection.CreateCommand();
        command.CommandText = sql;
        return command.ExecuteScalar();
    }

    private object? Scalar(string sql) => Scalar(connection, sql);

    private SqliteCommand Command(string sql)
    {
        var command = connection.CreateCommand();
        command.CommandText = sql;
        return command;
    }
}
