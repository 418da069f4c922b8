using System.Globalization;
using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.Tools;
using Traceability.Service.Storage;
using Traceability.Service.Telemetry.Alarms;

namespace Traceability.Service.Features.Tools;

/// <summary>Tools that are in use and due for calibration: whatever is done with them from now on is found.</summary>
/// <remarks>Only tools with new facts are read anew; what is due follows from the present time.</remarks>
internal sealed class CalibrationDueAlarm : IAlarmSource
{
    private const int NamedMax = 10;

    private readonly Dictionary<string, Tool> _tools = new(StringComparer.Ordinal);
    private long _seq;

    /// <inheritdoc />
    public async ValueTask<IReadOnlyList<Trouble>> LookAsync(NpgsqlConnection connection, DateTimeOffset now, CancellationToken cancellation)
    {
        await ReadAsync(connection, cancellation);
        var due = _tools.Values
            .Select(t => (t.Number, Standing: ToolLife.At(t, now)))
            .Where(t => t.Standing is { Condition: ToolCondition.Due, Withdrawal: null, DueAt: not null })
            .OrderBy(t => t.Standing.DueAt)
            .ThenBy(t => t.Number.ToString(), StringComparer.Ordinal)
            .ToArray();
        if (due.Length == 0)
        {
            return [];
        }

        var named = string.Join(", ", due.Take(NamedMax).Select(t => string.Create(CultureInfo.InvariantCulture, $"{t.Number} since {t.Standing.DueAt!.Value.UtcDateTime:yyyy-MM-dd}")));
        return
        [
            new(
                "calibration-due",
                due[0].Standing.DueAt,
                due.Length,
                string.Create(CultureInfo.InvariantCulture, $"{due.Length} tools are in use and due for calibration: {named}. Steps that use them get a finding."),
                "Have them calibrated and record tool-calibrated, or take them out of use with tool-withdrawn. GET /api/tools/{tool}/life tells where each stands."),
        ];
    }

    private async Task ReadAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        var seq = _seq;
        List<string> changed = [];
        await using (var command = new NpgsqlCommand("select stream, seq from traceability.reference_stream where kind = 'tool' and seq > $1", connection)
        {
            Parameters = { new() { Value = _seq, NpgsqlDbType = NpgsqlDbType.Bigint } },
        })
        {
            await using var reader = await command.ExecuteReaderAsync(cancellation);
            while (await reader.ReadAsync(cancellation))
            {
                changed.Add(reader.GetString(0));
                seq = Math.Max(seq, reader.GetInt64(1));
            }
        }

        foreach (var (stream, facts) in changed.Count == 0 ? [] : await EventReader.LoadAsync(connection, changed, cancellation))
        {
            _tools[stream] = Tool.Of(ToolNumber.Parse(stream[StreamNames.ToolPrefix.Length..]), facts);
        }

        _seq = seq;
    }
}
