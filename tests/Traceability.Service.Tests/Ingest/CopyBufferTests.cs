using System.Text;
using Npgsql;
using NpgsqlTypes;
using Traceability.Service.Ingest.Bulk;
using Traceability.Service.Tests.Scope;
using Xunit;

namespace Traceability.Service.Tests.Ingest;

/// <summary>What is written by the binary form of COPY here is what the driver writes: the reference is Npgsql's own importer.</summary>
public sealed class CopyBufferTests
{
    private sealed record Sample(
        string? Text, int Integer, long Bigint, Guid? Uuid, double? Real, bool? Boolean, DateOnly Date, byte[] Bytes, string? Json, TimeSpan? Interval, DateTimeOffset? Time);

    private const string Columns = "text text, integer int, bigint bigint, uuid uuid, real float8, boolean bool, date date, bytes bytea, json jsonb, interval interval, time timestamptz";

    private static readonly CopyTable<Sample> Table = new CopyTable<Sample>("own")
        .Text("text", s => s.Text)
        .Integer("integer", s => s.Integer)
        .Bigint("bigint", s => s.Bigint)
        .Uuid("uuid", s => s.Uuid)
        .Real("real", s => s.Real)
        .Boolean("boolean", s => s.Boolean)
        .Date("date", s => s.Date)
        .Bytes("bytes", s => s.Bytes)
        .Json("json", s => s.Json is null ? null : Encoding.UTF8.GetBytes(s.Json))
        .Interval("interval", s => s.Interval)
        .Time("time", s => s.Time);

    private static readonly DateTimeOffset Noon = new(2026, 3, 2, 12, 0, 0, TimeSpan.Zero);

    // The ends of what each type can hold, signs, zero, nothing, text of several bytes a letter, times before the epoch of the type.
    private static readonly Sample[] Samples =
    [
        new("ADH-1", 0, 0, Guid.Empty, 0, false, new(2000, 1, 1), [], "{}", TimeSpan.Zero, Noon),
        new(null, int.MinValue, long.MinValue, null, null, null, new(1999, 12, 31), [0, 255], null, null, null),
        new(string.Empty, int.MaxValue, long.MaxValue, new Guid("00112233-4455-6677-8899-aabbccddeeff"), double.MaxValue, true, new(2026, 11, 27), [7], """{"a":[1,null,"ü"]}""", TimeSpan.FromTicks(10), Noon.AddTicks(10)),
        new("Prüfung 12 Ω ✓ 𝄞", -1, -1, new Guid("ffffffff-ffff-ffff-ffff-ffffffffffff"), double.Epsilon, true, DateOnly.MaxValue, [1, 2, 3], "[]", new(-1, -2, -3, -4, -5), DateTimeOffset.MaxValue),
        new(new string('x', 100_000), 1, 1, Guid.Empty, double.NegativeInfinity, false, DateOnly.MinValue, new byte[70_000], "\"text\"", new(400, 23, 59, 59, 999), DateTimeOffset.MinValue),
        new("tab\tline\nquote\"back\\", 1, 1, Guid.Empty, double.NaN, false, new(1970, 1, 1), [], "1.25", TimeSpan.FromDays(-1), new DateTimeOffset(1969, 7, 20, 20, 17, 40, TimeSpan.FromHours(2))),
    ];

    [Fact]
    public async Task Every_type_is_stored_as_the_driver_stores_it()
    {
        await using var database = await ScopeDatabase.CreateAsync();
        await using var connection = await database.Source.OpenConnectionAsync();
        await ExecuteAsync(connection, $"create temp table own (n int generated always as identity, {Columns}); create temp table theirs (n int generated always as identity, {Columns})");

        Assert.Equal(Samples.Length, Table.Write(connection, "pg_temp", Samples));
        await WriteByDriverAsync(connection);

        Assert.Equal(Samples.Length, await CountAsync(connection, "select count(*) from own"));
        Assert.Equal(0, await CountAsync(connection, "select count(*) from (table own except table theirs) d"));
        Assert.Equal(0, await CountAsync(connection, "select count(*) from (table theirs except table own) d"));

        // Equal intervals may be written differently (24 hours, one day), so their parts are compared, too.
        Assert.Equal(0, await CountAsync(connection, "select count(*) from own o join theirs t using (n) where o.interval::text is distinct from t.interval::text"));
    }

    [Fact]
    public async Task A_row_that_cannot_be_written_ends_the_copy_and_leaves_nothing()
    {
        await using var database = await ScopeDatabase.CreateAsync();
        await using var connection = await database.Source.OpenConnectionAsync();
        await ExecuteAsync(connection, $"create temp table own ({Columns})");

        // Half of a surrogate pair is no text.
        Assert.Throws<EncoderFallbackException>(() => Table.Write(connection, "pg_temp", [Samples[0], Samples[0] with { Text = "\ud834" }]));
        Assert.Equal(0, await CountAsync(connection, "select count(*) from own"));
    }

    private static async Task WriteByDriverAsync(NpgsqlConnection connection)
    {
        await using var writer = await connection.BeginBinaryImportAsync($"copy theirs ({string.Join(", ", Table.Columns)}) from stdin (format binary)");
        foreach (var s in Samples)
        {
            await writer.StartRowAsync();
            await WriteAsync(s.Text, NpgsqlDbType.Text);
            await writer.WriteAsync(s.Integer, NpgsqlDbType.Integer);
            await writer.WriteAsync(s.Bigint, NpgsqlDbType.Bigint);
            await WriteAsync(s.Uuid, NpgsqlDbType.Uuid);
            await WriteAsync(s.Real, NpgsqlDbType.Double);
            await WriteAsync(s.Boolean, NpgsqlDbType.Boolean);
            await writer.WriteAsync(s.Date, NpgsqlDbType.Date);
            await writer.WriteAsync(s.Bytes, NpgsqlDbType.Bytea);
            await WriteAsync(s.Json, NpgsqlDbType.Jsonb);
            await WriteAsync(s.Interval, NpgsqlDbType.Interval);
            await WriteAsync(s.Time?.UtcDateTime, NpgsqlDbType.TimestampTz);
        }

        await writer.CompleteAsync();

        async Task WriteAsync<T>(T? value, NpgsqlDbType type)
        {
            if (value is null)
            {
                await writer.WriteNullAsync();
            }
            else
            {
                await writer.WriteAsync(value, type);
            }
        }
    }

    private static async Task ExecuteAsync(NpgsqlConnection connection, string sql)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        await command.ExecuteNonQueryAsync();
    }

    private static async Task<long> CountAsync(NpgsqlConnection connection, string sql)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        return (long)(await command.ExecuteScalarAsync())!;
    }
}
