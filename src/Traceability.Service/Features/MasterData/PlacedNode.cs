namespace Traceability.Service.Features.MasterData;

/// <summary>A part of a file with the place where it stands.</summary>
/// <param name="Line">The line, from 1.</param>
/// <param name="Column">The column, from 1.</param>
internal abstract record PlacedNode(int Line, int Column);

/// <summary>A text, number, truth value or nothing.</summary>
/// <param name="Text">As written, without quotes; a JSON literal stands as its text.</param>
/// <param name="IsPlain">Written without quotes, so that it may stand for a number, a truth value or nothing.</param>
/// <param name="Line">The line, from 1.</param>
/// <param name="Column">The column, from 1.</param>
internal sealed record PlacedScalar(string Text, bool IsPlain, int Line, int Column) : PlacedNode(Line, Column)
{
    /// <summary>Whether it stands for nothing.</summary>
    public bool IsNull => IsPlain && (Text is "" or "~" or "null" or "Null" or "NULL");
}

/// <summary>A list.</summary>
/// <param name="Entries">Its entries.</param>
/// <param name="Line">The line, from 1.</param>
/// <param name="Column">The column, from 1.</param>
internal sealed record PlacedList(ImmutableArray<PlacedNode> Entries, int Line, int Column) : PlacedNode(Line, Column);

/// <summary>Named members.</summary>
/// <param name="Members">The members in their order; no name twice.</param>
/// <param name="Line">The line, from 1.</param>
/// <param name="Column">The column, from 1.</param>
internal sealed record PlacedMap(ImmutableArray<PlacedMember> Members, int Line, int Column) : PlacedNode(Line, Column)
{
    /// <summary>The member with this name, or null.</summary>
    public PlacedMember? Find(string name) => Members.FirstOrDefault(m => string.Equals(m.Name, name, StringComparison.Ordinal));
}

/// <summary>A member of a map.</summary>
/// <param name="Name">Its name.</param>
/// <param name="Value">Its value.</param>
/// <param name="Line">The line of the name, from 1.</param>
/// <param name="Column">The column of the name, from 1.</param>
internal sealed record PlacedMember(string Name, PlacedNode Value, int Line, int Column);
