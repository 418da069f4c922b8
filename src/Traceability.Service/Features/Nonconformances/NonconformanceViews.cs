using System.Globalization;
using Npgsql;
using Traceability.Contracts.Nonconformances;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Disposition = Traceability.Contracts.Facts.Disposition;

namespace Traceability.Service.Features.Nonconformances;

/// <summary>Turns nonconformances into what is answered.</summary>
internal static class NonconformanceViews
{
    /// <summary>The columns, in the order that <see cref="Read"/> expects; the table is to be called n.</summary>
    public const string Columns =
        "n.unit, n.row_id, n.id, n.state, n.is_open, n.kind, n.rule, n.step, n.attempt, n.record, n.at, n.message, n.disposition, n.decision, n.decided_at, n.decided_by, n.concession, n.awaited, n.ended_at, n.ended_by";

    /// <summary>The row that the reader is at, with its number within the unit.</summary>
    public static (Nonconformance Nonconformance, long RowId) Read(NpgsqlDataReader reader)
    {
        return (new()
        {
            Unit = UnitKey.Parse(reader.GetString(0)).ToUnitRef(),
            Id = reader.GetString(2),
            State = NonconformanceForms.Enum<NonconformanceState>(reader.GetString(3)),
            IsOpen = reader.GetBoolean(4),
            Kind = reader.GetString(5),
            Rule = reader.GetString(6),
            Step = Text(7),
            Attempt = reader.GetInt32(8),
            Record = reader.GetGuid(9),
            At = reader.GetFieldValue<DateTimeOffset>(10),
            Message = reader.GetString(11),
            Disposition = Text(12) is { } disposition ? NonconformanceForms.Enum<Disposition>(disposition) : null,
            Decision = Id(13),
            DecidedAt = Time(14),
            DecidedBy = Text(15),
            Concession = Text(16),
            Awaited = Text(17)?.Split(' ') ?? [],
            EndedAt = Time(18),
            EndedBy = Id(19),
        },
        reader.GetInt64(1));

        string? Text(int column) => reader.IsDBNull(column) ? null : reader.GetString(column);

        Guid? Id(int column) => Text(column) is { } id ? Guid.Parse(id, CultureInfo.InvariantCulture) : null;

        DateTimeOffset? Time(int column) => reader.IsDBNull(column) ? null : reader.GetFieldValue<DateTimeOffset>(column);
    }
}
