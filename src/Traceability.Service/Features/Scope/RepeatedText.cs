namespace Traceability.Service.Features.Scope;

/// <summary>Texts that mostly repeat from row to row, as steps and stations do: each is kept once, not once a row.</summary>
internal sealed class RepeatedText
{
    private string? _last;

    /// <summary>The same text, where it was the last one, too.</summary>
    public string? Of(string? text) => string.Equals(text, _last, StringComparison.Ordinal) ? _last : _last = text;
}
