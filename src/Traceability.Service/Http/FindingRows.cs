using System.Text.Json;
using Npgsql;
using Traceability.Contracts.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Http;

/// <summary>Reads rows of the table of findings.</summary>
internal static class FindingRows
{
    /// <summary>The columns, in the order that <see cref="Read"/> expects; the table is to be called f.</summary>
    public const string Columns = "f.unit, f.row_id, f.kind, f.rule, f.step, f.attempt, f.record, f.at, f.stops, f.is_defect, f.message, f.evidence::text, f.concession";

    /// <summary>The row that the reader is at, with its number within the unit.</summary>
    public static (Contracts.Finding Finding, long RowId) Read(NpgsqlDataReader reader) =>
        (new()
        {
            Unit = UnitKey.Parse(reader.GetString(0)).ToUnitRef(),
            Kind = reader.GetString(2),
            Rule = reader.GetString(3),
            Step = reader.GetString(4) is { Length: > 0 } step ? step : null,
            Attempt = reader.GetInt32(5),
            Record = reader.GetGuid(6),
            At = reader.GetFieldValue<DateTimeOffset>(7),
            Enforcement = reader.GetBoolean(8) ? Enforcement.Stop : Enforcement.Flag,
            CountsAsDefect = reader.GetBoolean(9),
            Message = reader.GetString(10),
            Evidence = JsonSerializer.Deserialize<SortedDictionary<string, string>>(reader.GetString(11)) ?? [],
            Concession = reader.IsDBNull(12) ? null : reader.GetString(12),
        },
        reader.GetInt64(1));
}
