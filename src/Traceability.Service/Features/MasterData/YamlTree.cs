using Traceability.Service.Http.Reading;
using YamlDotNet.Core;
using YamlDotNet.Core.Events;

namespace Traceability.Service.Features.MasterData;

/// <summary>Reads YAML 1.1/1.2 (or JSON in YAML's flow style) into placed nodes. Aliases, tags and several documents are not read.</summary>
internal sealed class YamlTree
{
    private readonly List<MasterDataError> _errors = [];
    private readonly Parser _parser;

    private YamlTree(string text) => _parser = new Parser(new StringReader(text));

    /// <summary>The root, or null with errors.</summary>
    public static PlacedNode? Read(string text, ICollection<MasterDataError> errors)
    {
        var tree = new YamlTree(text);
        PlacedNode? root = null;
        try
        {
            root = tree.ReadDocument();
        }
        catch (YamlException e)
        {
            tree._errors.Add(new(string.Empty, (int)e.Start.Line, (int)e.Start.Column, $"The file is not well-formed here: {e.Message}"));
        }

        foreach (var error in tree._errors)
        {
            errors.Add(error);
        }

        return tree._errors.Count == 0 ? root : null;
    }

    private PlacedNode? ReadDocument()
    {
        _parser.Consume<StreamStart>();
        if (!_parser.TryConsume<DocumentStart>(out _))
        {
            _errors.Add(new(string.Empty, 1, 1, "The file is empty."));
            return null;
        }

        var root = ReadNode(string.Empty, 0);
        _parser.Consume<DocumentEnd>();
        if (!_parser.Accept<StreamEnd>(out _))
        {
            _errors.Add(new(string.Empty, (int)_parser.Current!.Start.Line, (int)_parser.Current.Start.Column, "The file holds a second document. Put everything into one."));
        }

        return root;
    }

    private PlacedNode ReadNode(string pointer, int depth)
    {
        var line = (int)_parser.Current!.Start.Line;
        var column = (int)_parser.Current.Start.Column;
        if (depth > WireLimits.DepthMax)
        {
            throw new YamlException(_parser.Current.Start, _parser.Current.End, $"more than {WireLimits.DepthMax} levels.");
        }

        if (_parser.TryConsume<Scalar>(out var scalar))
        {
            return new PlacedScalar(scalar.Value, scalar.Style == ScalarStyle.Plain, line, column);
        }

        if (_parser.TryConsume<SequenceStart>(out _))
        {
            var entries = ImmutableArray.CreateBuilder<PlacedNode>();
            while (!_parser.TryConsume<SequenceEnd>(out _))
            {
                entries.Add(ReadNode(FormattableString.Invariant($"{pointer}/{entries.Count}"), depth + 1));
            }

            return new PlacedList(entries.DrainToImmutable(), line, column);
        }

        if (_parser.TryConsume<MappingStart>(out _))
        {
            return ReadMap(pointer, depth, line, column);
        }

        if (_parser.TryConsume<AnchorAlias>(out _))
        {
            _errors.Add(new(pointer, line, column, "An alias (*name) is not read here. Write the value out."));
            return new PlacedScalar(string.Empty, IsPlain: true, line, column);
        }

        throw new YamlException(_parser.Current.Start, _parser.Current.End, "a value is expected.");
    }

    private PlacedMap ReadMap(string pointer, int depth, int line, int column)
    {
        var members = ImmutableArray.CreateBuilder<PlacedMember>();
        var names = new HashSet<string>(StringComparer.Ordinal);
        while (!_parser.TryConsume<MappingEnd>(out _))
        {
            var at = _parser.Current!.Start;
            if (!_parser.TryConsume<Scalar>(out var name))
            {
                throw new YamlException(at, _parser.Current.End, "a name is expected.");
            }

            var place = JsonPath.Append(pointer, name.Value);
            var value = ReadNode(place, depth + 1);
            if (names.Add(name.Value))
            {
                members.Add(new(name.Value, value, (int)at.Line, (int)at.Column));
            }
            else
            {
                _errors.Add(new(place, (int)at.Line, (int)at.Column, $"The member '{name.Value}' is given twice."));
            }
        }

        return new(members.DrainToImmutable(), line, column);
    }
}
