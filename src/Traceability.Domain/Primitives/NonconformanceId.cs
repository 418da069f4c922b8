using System.Text.Json.Serialization;

namespace Traceability.Domain.Primitives;

/// <summary>Names a nonconformance within its unit by what it rests on: a record, and for a finding its kind and rule.</summary>
/// <remarks>
/// The text is the id of the record, for a finding followed by "." and the kind, "." and the rule. The record's id stays when the
/// record is corrected and when a late one renumbers the attempts, so a decision stays with what it was made about.
/// </remarks>
[JsonConverter(typeof(CodeJsonConverter<NonconformanceId>))]
public readonly record struct NonconformanceId : ICode<NonconformanceId>
{
    private const int RecordLength = 36;

    private readonly string? _value;

    private NonconformanceId(string value) => _value = value;

    /// <inheritdoc />
    public static int LengthMax => 120;

    /// <inheritdoc />
    public static string Name => "nonconformance";

    /// <inheritdoc />
    public string Value => _value ?? throw new InvalidOperationException("A default NonconformanceId has no value.");

    /// <inheritdoc />
    public static NonconformanceId Wrap(string text)
    {
        ArgumentNullException.ThrowIfNull(text);

        // A UUID is the same in small letters and in capitals (RFC 9562, section 4).
        return new(text.Length >= RecordLength && Guid.TryParseExact(text.AsSpan(0, RecordLength), "D", out var record)
            ? string.Concat(record.ToString(), text.AsSpan(RecordLength))
            : text);
    }

    /// <summary>Reads the text, or throws <see cref="FormatException"/>.</summary>
    public static NonconformanceId Parse(string text) => Codes.Parse<NonconformanceId>(text);

    /// <summary>What a person reported.</summary>
    public static NonconformanceId OfReport(Guid report) => new(report.ToString());

    /// <summary>What a rule found.</summary>
    public static NonconformanceId OfFinding(Guid record, string kind, string rule) => new($"{record}.{kind}.{rule}");

    /// <summary>Takes the name apart; kind and rule are empty for a report. False if it does not have the form.</summary>
    public bool TrySplit(out Guid record, out string kind, out string rule)
    {
        (record, kind, rule) = (Guid.Empty, string.Empty, string.Empty);
        if (_value is not { Length: >= RecordLength } text || !Guid.TryParseExact(text.AsSpan(0, RecordLength), "D", out record))
        {
            return false;
        }

        if (text.Length == RecordLength)
        {
            return true;
        }

        var dot = text.IndexOf('.', RecordLength + 1);
        if (text[RecordLength] != '.' || dot < 0)
        {
            return false;
        }

        (kind, rule) = (text[(RecordLength + 1)..dot], text[(dot + 1)..]);
        return kind.Length > 0;
    }

    /// <inheritdoc />
    public override string ToString() => _value ?? string.Empty;
}
